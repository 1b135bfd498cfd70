/** What the uncertainty of a latency is made of: one bar a component, as long as its standard uncertainty. */
import { scaleLinear } from 'd3-scale';
import { html } from '../markup.js';
import { fixed } from '../numberText.js';
import { box, hatch, label, PLOT_WIDTH, type PlotWords, plotSheet } from './plotSheet.js';

/** One component of the budget, ms (k = 1). */
export interface BudgetBar {
  readonly name: string;
  readonly standardUncertaintyMs: number;
  /** GUM 4.2 and 4.3: by statistics (A) or by other knowledge (B). */
  readonly type: 'A' | 'B';
  readonly common: boolean;
}

/** What is drawn. */
export interface BudgetInput extends PlotWords {
  readonly bars: readonly BudgetBar[];
  /** Combined standard uncertainty, ms. */
  readonly combinedMs: number;
}

const ROW = 38;
/** Letters of a component's name that fit; lagreel's own are shorter. */
const NAME_LETTERS = 22;

/** SVG text: filled bars are type A, hatched bars type B; the last, outlined bar is all of them together. */
export function budgetBars(input: BudgetInput): string {
  const { bars, combinedMs } = input;
  const most = Math.max(combinedMs, ...bars.map((b) => b.standardUncertaintyMs), 1e-6);
  const x = scaleLinear()
    .domain([0, most])
    .range([0, PLOT_WIDTH - 92]);
  const rows = [
    ...bars.map((b) => ({
      ...b,
      kind: b.type === 'A' ? 'bar' : 'hatched',
      words: `${b.name.length > NAME_LETTERS ? `${b.name.slice(0, NAME_LETTERS - 1)}…` : b.name} (type ${b.type}${b.common ? ', common' : ''})`,
    })),
    { standardUncertaintyMs: combinedMs, kind: 'hollow', words: 'all together', type: 'A' as const },
  ];
  const body = rows.map((row, i) => {
    const y = 14 + i * ROW;
    const width = Math.max(1, x(row.standardUncertaintyMs));
    const fill = row.kind === 'hatched' ? `url(#${input.id}-hatch)` : undefined;
    return html`${label(0, y, row.words)}${box(row.kind, 0.75, y + 6, width, 12, fill)}${label(width + 8, y + 16, `${fixed(row.standardUncertaintyMs, 3)} ms`, 'start', row.kind === 'hollow' ? 'figure' : 'note')}`;
  });
  const words = bars.map(
    (b) =>
      `${b.name} ${fixed(b.standardUncertaintyMs, 3)} ms, type ${b.type}${b.common ? ', common to all presses' : ''}`,
  );
  const description = `Standard uncertainties (k = 1): ${words.join('; ')}. Together ${fixed(combinedMs, 3)} ms.`;
  return plotSheet(input, description, 14 + rows.length * ROW, html`${hatch(`${input.id}-hatch`)}${body}`);
}
