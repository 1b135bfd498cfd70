/** The rows of a board: all groups of a comparison, ranked, with their figures in words. Pure. */
import type { ComparedClip, ComparedGroup, Comparison, GroupComparison } from '../../record/comparison.js';
import type { LagKind } from '../lagSign.js';
import { decimalsForInterval, fixed, intervalText, msText } from '../numberText.js';
import { plainText } from '../plainText.js';

/** One group on the board. All texts are safe to print, not yet escaped. */
export interface BoardRow {
  /** From 1; groups whose headline is equal to a tenth of a millisecond share a rank. */
  readonly rank: number;
  readonly name: string;
  readonly region: string;
  /** Name, with the region where the board has several. */
  readonly title: string;
  readonly isBaseline: boolean;
  readonly lag: LagKind;
  /** What is ranked by: the fixed delay, or the median where there are too few presses for it. */
  readonly headlineMs: number;
  readonly headlineKind: 'fixed delay' | 'delay without the wait, on average' | 'median';
  readonly intervalMs: readonly [number, number] | null;
  /** `54.0 ms`. */
  readonly headline: string;
  /** `52.9 to 54.6 ms`, or why there is none. */
  readonly interval: string;
  /** What lies between fastest and slowest press by the model: the wait, or for a variable lag the presses' own spread. */
  readonly spreadMs: readonly [number, number];
  readonly spread: string;
  /** Against the baseline; `baseline` itself, or why there is no comparison. */
  readonly added: string;
  /** The verdict in words. */
  readonly sentence: string;
  readonly comparison: GroupComparison | null;
  readonly group: ComparedGroup;
  readonly clips: readonly ComparedClip[];
}

/** Groups with the shortest headline first; presses of one group decide nothing between equal ones, names do. */
export function boardRows(comparison: Comparison): readonly BoardRow[] {
  const severalRegions = new Set(comparison.groups.map((g) => g.region)).size > 1;
  const sorted = comparison.groups
    .map((group) => ({ group, ms: group.fixedDelayMs ?? group.medianMs }))
    .sort(
      (a, b) => a.ms - b.ms || order(a.group.name, b.group.name) || order(a.group.region, b.group.region),
    );
  const rows: BoardRow[] = [];
  for (const [i, { group, ms }] of sorted.entries()) {
    const before = rows.at(-1);
    const same = before !== undefined && fixed(before.headlineMs, 1) === fixed(ms, 1);
    rows.push(rowOf(comparison, group, same ? before.rank : i + 1, severalRegions));
  }
  return rows;
}

// By code units, so that the order is the same on every machine.
const order = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

function rowOf(comparison: Comparison, group: ComparedGroup, rank: number, named: boolean): BoardRow {
  const against = comparison.comparisons.find((c) => sameGroup(c, group)) ?? null;
  const interval = group.fixedDelayMs === null ? null : group.intervalMs;
  const decimals = interval === null ? 1 : decimalsForInterval(interval);
  const headlineMs = group.fixedDelayMs ?? group.medianMs;
  const name = plainText(group.name) || 'all clips';
  const region = plainText(group.region);
  return {
    rank,
    name,
    region,
    title: named ? `${name} · ${region}` : name,
    isBaseline: group.isBaseline,
    lag: group.lag,
    headlineMs,
    headlineKind:
      group.fixedDelayMs === null
        ? 'median'
        : group.lag === 'variable'
          ? 'delay without the wait, on average'
          : 'fixed delay',
    intervalMs: interval,
    headline: msText(headlineMs, decimals),
    interval: interval === null ? 'too few presses for an interval' : intervalText(interval, decimals),
    spreadMs: spreadOf(group),
    spread: spreadWords(group),
    added: addedWords(group, against),
    sentence: plainText(against?.sentence ?? ''),
    comparison: against,
    group,
    clips: clipsOf(comparison, group),
  };
}

function sameGroup(c: GroupComparison, group: ComparedGroup): boolean {
  const keys = new Set([...Object.keys(c.labels), ...Object.keys(group.labels)]);
  return c.region === group.region && [...keys].every((key) => c.labels[key] === group.labels[key]);
}

/** From the fixed delay over a whole wait; where the lag is variable or has no model, the presses' own 5 % to 95 %. */
function spreadOf(group: ComparedGroup): readonly [number, number] {
  const { fixedDelayMs, periodMs, quantilesMs } = group;
  if (group.lag === 'fixed' && fixedDelayMs !== null && periodMs !== null)
    return [fixedDelayMs, fixedDelayMs + periodMs];
  return [quantilesMs.p05, quantilesMs.p95];
}

function spreadWords(group: ComparedGroup): string {
  const range = intervalText(spreadOf(group));
  return group.lag === 'fixed' && group.periodMs !== null && group.fixedDelayMs !== null
    ? `${range} with the wait for the next refresh`
    : `${range} for nine presses of ten`;
}

function addedWords(group: ComparedGroup, c: GroupComparison | null): string {
  if (group.isBaseline) return 'baseline';
  if (c === null || c.addedMs === null) return 'not compared';
  const sign = c.addedMs > 0 ? '+' : '';
  const decimals = c.intervalMs === null ? 1 : decimalsForInterval(c.intervalMs);
  const range = c.intervalMs === null ? '' : ` (${intervalText(c.intervalMs, decimals)})`;
  return `${sign}${msText(c.addedMs, decimals)}${range}`;
}

/** Clips of the group: those whose presses are in it. */
function clipsOf(comparison: Comparison, group: ComparedGroup): readonly ComparedClip[] {
  const indices = [...new Set(group.latencies.map((l) => l.clip))].sort((a, b) => a - b);
  return indices.flatMap((index) => comparison.clips[index] ?? []);
}

/** What was allowed although it does not compare, and the warnings: they go where the board goes. */
export function boardWorries({ comparisons, warnings }: Comparison): readonly string[] {
  return [...new Set(comparisons.flatMap((c) => c.allowed)), ...warnings];
}

/** Words on what a board's order is worth. */
export function orderCaution(rows: readonly BoardRow[]): string | null {
  const unsure = rows.some((row, i) => {
    const next = rows[i + 1];
    if (next === undefined) return false;
    return row.intervalMs === null || next.intervalMs === null || row.intervalMs[1] >= next.intervalMs[0];
  });
  return unsure
    ? 'Neighbours whose intervals overlap may stand the other way round: the verdicts say which differences are shown.'
    : null;
}
