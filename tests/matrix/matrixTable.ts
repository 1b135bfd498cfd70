/** The matrix in words: a table a factor, the totals beside their floors, and what failed in one clip. */
import type { FactorName } from './drawClip.js';
import type { Judgement, Outcome } from './judgeClip.js';

const percent = (part: number, whole: number) => (whole > 0 ? `${((100 * part) / whole).toFixed(1)} %` : '-');
const sum = (
  list: readonly Outcome[],
  key: 'expected' | 'found' | 'invented' | 'inventedUnflagged' | 'flagged' | 'wrong' | 'wrongUnflagged',
) => list.reduce((total, o) => total + o[key], 0);
const isSound = (o: Outcome) => o.fitness === 'fit' || o.fitness === 'usable with care';

/** Sums over clips. */
export interface Totals {
  readonly clips: number;
  readonly fit: number;
  readonly care: number;
  readonly unfit: number;
  /** Presses on clips called fit. */
  readonly expectedFit: number;
  readonly foundFit: number;
  readonly inventedFit: number;
  /** Over clips not called unfit. */
  readonly expected: number;
  readonly found: number;
  readonly invented: number;
  readonly inventedUnflagged: number;
  readonly reported: number;
  readonly flagged: number;
  readonly wrong: number;
  readonly wrongUnflagged: number;
}

/** Adds up outcomes. */
export function totalsOf(outcomes: readonly Outcome[]): Totals {
  const fit = outcomes.filter((o) => o.fitness === 'fit');
  const sound = outcomes.filter(isSound);
  return {
    clips: outcomes.length,
    fit: fit.length,
    care: sound.length - fit.length,
    unfit: outcomes.length - sound.length,
    expectedFit: sum(fit, 'expected'),
    foundFit: sum(fit, 'found'),
    inventedFit: sum(fit, 'invented'),
    expected: sum(sound, 'expected'),
    found: sum(sound, 'found'),
    invented: sum(sound, 'invented'),
    inventedUnflagged: sum(sound, 'inventedUnflagged'),
    reported: sum(sound, 'invented') + sound.reduce((n, o) => n + o.errorsT.length, 0),
    flagged: sum(sound, 'flagged'),
    wrong: sum(sound, 'wrong'),
    wrongUnflagged: sum(sound, 'wrongUnflagged'),
  };
}

const HEAD = [
  '',
  'clips',
  'fit',
  'care',
  'unfit',
  'found',
  'invented',
  'flagged',
  'wrong',
  'no flag',
  'regions',
  'unsure',
  'silent',
];

function cells(name: string, list: readonly Judgement[]): string[] {
  const t = totalsOf(list.flatMap((j) => [j.drawn, j.found]));
  const right = list.filter((j) => j.finding.startsWith('right')).length;
  const silent = list.filter((j) => j.finding === 'silently wrong').length;
  return [
    name,
    `${list.length}`,
    `${t.fit}`,
    `${t.care}`,
    `${t.unfit}`,
    percent(t.found, t.expected),
    `${t.invented}/${t.inventedUnflagged}`,
    percent(t.flagged, t.reported),
    `${t.wrong}`,
    `${t.wrongUnflagged}`,
    percent(right, list.length),
    `${list.length - right - silent}`,
    `${silent}`,
  ];
}

/** One table: a row for each value of a factor, both runs (drawn and found regions) together. */
export function factorTable(judged: readonly Judgement[], factor: FactorName): string {
  const values = [...new Set(judged.map((j) => j.clip.factors[factor]))].sort();
  const rows = [
    [factor, ...HEAD.slice(1)],
    ...values.map((v) =>
      cells(
        v,
        judged.filter((j) => j.clip.factors[factor] === v),
      ),
    ),
  ];
  return `${rows.map((r) => r.map((c, i) => (i === 0 ? c.padEnd(18) : c.padStart(9))).join('')).join('\n')}\n`;
}

/** Totals beside the floors of the issue. */
export function describeTotals(judged: readonly Judgement[]): string {
  const lines: string[] = [];
  for (const run of ['drawn', 'found'] as const) {
    const t = totalsOf(judged.map((j) => j[run]));
    lines.push(
      `regions ${run}: ${t.fit} fit, ${t.care} with care, ${t.unfit} unfit or refused`,
      `  presses found on clips called fit ${percent(t.foundFit, t.expectedFit)} (floor 99 %), invented there ${t.inventedFit} (floor 0)`,
      `  on all clips not unfit: found ${percent(t.found, t.expected)}, invented ${t.invented} (${t.inventedUnflagged} without a flag)`,
      `  of ${t.reported} latencies ${t.wrong} wrong by more than one camera frame, ${t.wrongUnflagged} of them without a flag: ${percent(t.wrongUnflagged, t.reported)} (floor 0.5 %)`,
      `  flagged ${percent(t.flagged, t.reported)}`,
    );
  }
  const count = (word: string) => judged.filter((j) => j.finding === word).length;
  const right = count('right') + count('right but unsure');
  lines.push(
    `regions found: right ${percent(right, judged.length)} (floor 95 %; ${count('right but unsure')} of them unsure), wrong and said unsure ${count('said unsure')}, nothing ${count('found nothing')}, silently wrong ${percent(count('silently wrong'), judged.length)} (floor 1 %)`,
  );
  return lines.join('\n');
}

/** What went wrong in one clip, one line a run; one short line where nothing did. */
export function describeFailures({ clip, drawn, found, finding, detail }: Judgement): string {
  const { factors, scene, told } = clip;
  const lines = [
    `${scene.seed} ${Object.values(factors).join(' ')}${told.refresh ? '' : ' no-refresh'}${told.readout ? '' : ' no-readout'}${told.edge ? '' : ' no-edge'}`,
  ];
  const run = (name: string, o: Outcome) => {
    if (o.fitness === 'refused' || (o.found === o.expected && o.invented === 0 && o.wrong === 0)) return;
    const worst = o.errorsT.filter((e) => Math.abs(e) > 1).map((e) => e.toFixed(1));
    lines.push(
      `   ${name}: ${o.fitness} [${o.reasons.join(' ')}] found ${o.found}/${o.expected} invented ${o.invented}/${o.inventedUnflagged} wrong ${o.wrong}/${o.wrongUnflagged} (${worst.join(' ')})`,
    );
  };
  run('drawn', drawn);
  run('found', found);
  if (finding !== 'right') lines.push(`   regions ${finding}: ${detail}`);
  return lines.join('\n');
}
