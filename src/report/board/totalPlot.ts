/** Thumb to eye as stacked bars: what each group's typical press is made of, and how far presses lie apart. */
import { scaleLinear } from 'd3-scale';
import type { Budget, BudgetPart, BudgetTotal } from '../../record/comparison.js';
import { html, type Markup } from '../markup.js';
import { fixed } from '../numberText.js';
import { plainText } from '../plainText.js';
import { at, bottomAxis, box, hatch, label, PLOT_WIDTH, path, plotSheet } from '../plots/plotSheet.js';
import { shortName } from './boardPlot.js';

const ROW = 62;
const LEFT = 2;
const RIGHT = PLOT_WIDTH - 4;
const BAR = 18;

/** Name of a total, with its region where there are several. */
export function totalTitle({ totals }: Budget, total: BudgetTotal): string {
  const several = new Set(totals.map((t) => t.region)).size > 1;
  return several ? `${plainText(total.name)} · ${plainText(total.region)}` : plainText(total.name);
}

/** Total and display frames in words: `76.0 ms (4.6 display frames)`. */
export function typicalText({ typicalMs, typicalDisplayFrames: frames }: BudgetTotal): string {
  return `${fixed(typicalMs, 1)} ms${frames === null ? '' : ` (${fixed(frames, 1)} display frames)`}`;
}

/** SVG text; the parts of every bar stand in its description and in the table beside it. */
export function totalPlot(budget: Budget, id: string): string {
  const { totals } = budget;
  const ends = totals.flatMap((t) => [t.worstMs, stackedMs(t.parts)]);
  const x = scaleLinear()
    .domain([0, Math.max(1, ...ends) * 1.02])
    .range([LEFT, RIGHT]);
  const rows = totals.map((total, i) => row(budget, total, i * ROW, x, id));
  const bottom = totals.length * ROW + 6;
  const axis = bottomAxis(x, bottom, 'ms from thumb to eye', 6);
  return plotSheet(
    { id, title: 'Thumb to eye' },
    describe(budget),
    bottom + 36,
    html`${hatch(`${id}-hatch`)}${rows}${axis}`,
  );
}

function stackedMs(parts: readonly BudgetPart[]): number {
  return parts.reduce((sum, part) => sum + Math.max(0, part.typicalMs), 0);
}

function row(budget: Budget, total: BudgetTotal, top: number, x: (ms: number) => number, id: string): Markup {
  const barTop = top + 22;
  let fromMs = 0;
  const boxes = total.parts.map(({ kind, typicalMs }) => {
    const [from, to] = [x(fromMs), x(fromMs + Math.max(0, typicalMs))];
    fromMs += Math.max(0, typicalMs);
    if (kind === 'jitter') return null;
    if (kind === 'wait') return box('hatched', from, barTop, to - from, BAR, `url(#${id}-hatch)`);
    return box(kind === 'stage' ? 'hollow' : 'bar', from, barTop, to - from, BAR);
  });
  const [best, worst] = [at(x(total.bestMs)), at(x(total.worstMs))];
  const rangeY = barTop + BAR + 9;
  const range = path(
    'board-interval',
    `M${best} ${at(rangeY)}H${worst}M${best} ${at(rangeY - 4)}v8M${worst} ${at(rangeY - 4)}v8`,
  );
  const name = shortName(totalTitle(budget, total));
  return html`${label(LEFT, top + 14, name, 'start', 'row-name')}${label(RIGHT, top + 14, `${fixed(total.typicalMs, 1)} ms`, 'end', 'figure')}${boxes}${range}`;
}

function describe(budget: Budget): string {
  return budget.totals
    .map((total) => {
      const parts = total.parts
        .filter((part) => part.kind !== 'jitter')
        .map((part) => `${plainText(part.name)} ${fixed(part.typicalMs, 1)} ms`);
      return `${totalTitle(budget, total)}: typically ${typicalText(total)}, made of ${parts.join(', ')}; best ${fixed(total.bestMs, 1)} ms, worst ${fixed(total.worstMs, 1)} ms.`;
    })
    .join(' ');
}
