/** The terminal summary of a comparison: sentences first, then the groups, what they rest on, and what to worry about. */
import type { Budget, ComparedGroup, Comparison, GroupComparison } from '../record/comparison.js';
import { fittingTable, withoutConstant } from './fittingTable.js';
import { fixed } from './numberText.js';
import { plainText } from './plainText.js';
import { paint, type TerminalOptions, wrap } from './terminal.js';

/** Plain data in, lines out. Pure. */
export function renderComparison(comparison: Comparison, options: TerminalOptions): string {
  const { colour, width } = options;
  const heading = (text: string): string => paint(text, 'strong', colour);
  const sentences = (texts: readonly string[]): string[] =>
    texts.flatMap((t) => wrap(plainText(t), width, '  ', '    '));
  const { groups, comparisons, betweenClips, zeroCheck, budget, warnings } = comparison;
  const lines: string[] = [];
  if (comparisons.length > 0) {
    const against = [...new Set(comparisons.map((c) => Object.values(c.baseline).join(', ')))].join('; ');
    // Where more than one region is compared, the sentence alone does not say which.
    const several = new Set(comparisons.map((c) => c.region)).size > 1;
    lines.push(
      heading(plainText(`Against ${against}`)),
      ...sentences(comparisons.map((c) => (several ? `${c.region}: ${c.sentence}` : c.sentence))),
      '',
    );
    lines.push(heading('Differences, ms (95 % intervals)'), ...differenceTable(comparisons, width), '');
  }
  if (groups.length > 0) lines.push(heading('Groups, ms (95 % intervals)'), ...groupTable(groups, width), '');
  if (budget) lines.push(heading('Thumb to eye'), ...budgetTable(budget, width), '');
  lines.push(heading('What this rests on'), ...sentences([betweenClips.sentence, zeroCheck.sentence]));
  const allowed = [...new Set(comparisons.flatMap((c) => c.allowed))];
  const worries = [...allowed, ...warnings];
  if (worries.length > 0)
    lines.push('', heading('What to worry about'), ...sentences(worries.map((w) => `! ${w}`)));
  return `${lines.map((line) => line.trimEnd()).join('\n')}\n`;
}

const range = (interval: readonly [number, number] | null, decimals: number): string =>
  interval === null ? 'none' : `${fixed(interval[0], decimals)} to ${fixed(interval[1], decimals)}`;

const p = (value: number | null): string =>
  value === null ? '' : value < 0.001 ? '<0.001' : fixed(value, 3);

function differenceTable(comparisons: readonly GroupComparison[], width: number): readonly string[] {
  const header = [
    '',
    'region',
    'method',
    'added',
    'interval',
    'p',
    'within margin, p',
    'shift of all',
    'means',
  ];
  return fittingTable(
    withoutConstant(
      [
        header,
        ...comparisons.map((c) => [
          plainText(c.name),
          plainText(c.region),
          c.paired ? `${c.paired.pairs} pairs` : c.method,
          c.addedMs === null ? 'none' : fixed(c.addedMs, 2),
          range(c.intervalMs, 2),
          p(c.pAdjusted),
          p(c.equivalence?.pAdjusted ?? null),
          range(c.hodgesLehmann?.intervalMs ?? null, 2),
          range(c.differenceOfMeans?.intervalMs ?? null, 2),
        ]),
      ],
      1,
    ),
    width,
  );
}

function groupTable(groups: readonly ComparedGroup[], width: number): readonly string[] {
  const header = ['', 'region', 'clips', 'presses', 'fixed delay', 'interval', 'median', 'jitter', 'lag'];
  return fittingTable(
    withoutConstant(
      [
        header,
        ...groups.map((g) => [
          plainText(g.name),
          plainText(g.region),
          String(g.clips),
          String(g.n),
          g.fixedDelayMs === null ? 'none' : `${fixed(g.fixedDelayMs, 1)} ms`,
          range(g.intervalMs, 1),
          fixed(g.medianMs, 1),
          g.jitterMs === null ? 'none' : fixed(g.jitterMs, 1),
          g.lag,
        ]),
      ],
      1,
    ),
    width,
  );
}

function budgetTable({ stages, totals }: Budget, width: number): readonly string[] {
  const frames = (n: number | null): string => (n === null ? '' : ` (${fixed(n, 1)})`);
  const several = new Set(totals.map((t) => t.region)).size > 1;
  const known = stages.map(
    (s) => `${plainText(s.name)} ${fixed(s.valueMs, 1)} +- ${fixed(s.halfWidthMs, 1)} ms`,
  );
  return [
    `  With ${known.join(', ')}; in brackets display frames.`,
    ...fittingTable(
      [
        ['', 'best', 'typical', 'worst'],
        ...totals.map((t) => [
          several ? `${plainText(t.name)}, ${plainText(t.region)}` : plainText(t.name),
          `${fixed(t.bestMs, 1)} ms${frames(t.bestDisplayFrames)}`,
          `${fixed(t.typicalMs, 1)} ms${frames(t.typicalDisplayFrames)}`,
          `${fixed(t.worstMs, 1)} ms${frames(t.worstDisplayFrames)}`,
        ]),
      ],
      width,
    ),
  ];
}
