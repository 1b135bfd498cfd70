/** What moved between two records of one clip: number by number, against each number's own uncertainty. */
import type { ClipRecord, PressRecord, ResponseRecord, SummaryRecord } from '../record/record.js';

/** A number that is not what it was. */
export interface MovedNumber {
  /** For example `latency`, `LED onset`, `fixed delay`, `median`. */
  readonly what: string;
  /** Name of the screen region; null for the LED. */
  readonly region: string | null;
  /** Number of the press in the old record; null for a number of the whole clip. */
  readonly press: number | null;
  readonly oldMs: number;
  readonly newMs: number;
  /** New minus old. */
  readonly differenceMs: number;
  /** Standard uncertainty (k = 1) of the old number, ms; 0 where it has none. */
  readonly uncertaintyMs: number;
  /** Difference over uncertainty; null where there is no uncertainty. */
  readonly inUncertainties: number | null;
  /** Further than the tolerance allows. */
  readonly beyond: boolean;
}

/** Everything that moved. */
export interface Movement {
  /** Numbers that were compared. */
  readonly compared: number;
  /** Those that differ at all, the gravest first. */
  readonly moved: readonly MovedNumber[];
  /** What is no number: a press gone, a status, the fitness or the lag judged otherwise; one sentence each. */
  readonly findings: readonly string[];
  /** A number beyond the tolerance, or a finding. */
  readonly drifted: boolean;
}

/** Ten rounding steps of a record (0.0001 ms): below this no number of any use has moved. */
const FLOOR_MS = 0.001;
/** As for the decisions of a recipe: presses are at least this far apart. */
const SAME_PRESS_S = 0.05;
/** A 95 % interval is this many standard uncertainties wide. */
const INTERVAL_WIDTH_U = 2 * 1.96;

/**
 * Compares two records of one clip.
 * @param tolerance how far a number may move, as a share of its own standard uncertainty; never less than 0.001 ms.
 */
export function movementOf(old: ClipRecord, now: ClipRecord, tolerance: number): Movement {
  const numbers: MovedNumber[] = [];
  const findings: string[] = [];
  const note = (
    what: string,
    region: string | null,
    press: number | null,
    [oldMs, newMs]: readonly [number | undefined, number | undefined],
    uncertaintyMs: number,
  ): void => {
    const name = [press === null ? '' : `press ${press}`, region ?? '', what]
      .filter((part) => part !== '')
      .join(', ');
    if (oldMs === undefined && newMs === undefined) return;
    if (oldMs === undefined || newMs === undefined) {
      findings.push(`${name}: ${oldMs === undefined ? 'there is one now' : 'there is none any more'}.`);
      return;
    }
    const differenceMs = round(newMs - oldMs);
    numbers.push({
      what,
      region,
      press,
      oldMs,
      newMs,
      differenceMs,
      uncertaintyMs: round(uncertaintyMs),
      inUncertainties: uncertaintyMs > 0 ? round(differenceMs / uncertaintyMs) : null,
      beyond: Math.abs(differenceMs) > Math.max(FLOOR_MS, tolerance * uncertaintyMs),
    });
  };
  comparePresses(old, now, note, findings);
  for (const region of new Set([...Object.keys(old.summary), ...Object.keys(now.summary)])) {
    compareSummaries(region, old.summary[region], now.summary[region], note, findings);
  }
  if (old.fitness.class !== now.fitness.class) {
    findings.push(`The clip was ${old.fitness.class}, and is ${now.fitness.class} now.`);
  }
  const moved = numbers.filter((n) => n.differenceMs !== 0).sort((a, b) => gravity(b) - gravity(a));
  return {
    compared: numbers.length,
    moved,
    findings,
    drifted: findings.length > 0 || moved.some((n) => n.beyond),
  };
}

type Note = (
  what: string,
  region: string | null,
  press: number | null,
  values: readonly [number | undefined, number | undefined],
  uncertaintyMs: number,
) => void;

function comparePresses(old: ClipRecord, now: ClipRecord, note: Note, findings: string[]): void {
  const left = new Set(now.presses);
  for (const press of old.presses) {
    const match = nearest(press, left);
    if (!match) {
      findings.push(`Press ${press.index} at ${press.ledOnsetS} s is gone.`);
      continue;
    }
    left.delete(match);
    const { index } = press;
    note(
      'LED onset',
      null,
      index,
      [press.ledOnsetS * 1000, match.ledOnsetS * 1000],
      press.ledOnsetUncertaintyMs,
    );
    if (press.status !== match.status) {
      findings.push(`Press ${index} was ${press.status}, and is ${match.status} now.`);
    }
    compareResponses(press, match, note, findings);
  }
  for (const press of left) findings.push(`A press at ${press.ledOnsetS} s is new.`);
}

function compareResponses(press: PressRecord, match: PressRecord, note: Note, findings: string[]): void {
  const regions = new Set([...press.responses, ...match.responses].map((r) => r.region));
  const of = (responses: readonly ResponseRecord[], region: string) =>
    responses.find((r) => r.region === region);
  for (const region of regions) {
    const before = of(press.responses, region);
    const after = of(match.responses, region);
    if (before?.status !== after?.status) {
      findings.push(
        `Press ${press.index}, ${region}: was ${before?.status ?? 'absent'}, and is ${after?.status ?? 'absent'} now.`,
      );
    }
    if (before?.latencyMs === undefined || after?.latencyMs === undefined) continue;
    const uncertaintyMs = before.uncertaintyMs ?? 0;
    note('latency', region, press.index, [before.latencyMs, after.latencyMs], uncertaintyMs);
    note('uncertainty', region, press.index, [before.uncertaintyMs, after.uncertaintyMs], uncertaintyMs);
  }
}

function nearest(press: PressRecord, among: ReadonlySet<PressRecord>): PressRecord | undefined {
  const distance = (p: PressRecord) => Math.abs(p.ledOnsetS - press.ledOnsetS);
  return [...among].filter((p) => distance(p) <= SAME_PRESS_S).sort((a, b) => distance(a) - distance(b))[0];
}

function compareSummaries(
  region: string,
  old: SummaryRecord | undefined,
  now: SummaryRecord | undefined,
  note: Note,
  findings: string[],
): void {
  if (!old || !now) {
    findings.push(`${region}: ${old ? 'has no latencies any more' : 'has latencies now'}.`);
    return;
  }
  if (old.n !== now.n) findings.push(`${region}: ${old.n} latencies before, ${now.n} now.`);
  const medianU = old.medianIntervalMs ? width(old.medianIntervalMs) : old.commonUncertaintyMs;
  note('median', region, null, [old.medianMs, now.medianMs], medianU);
  const [before, after] = [old.waitModel, now.waitModel];
  if (before?.lag !== after?.lag) {
    findings.push(
      `${region}: the lag was ${before?.lag ?? 'not judged'}, and is ${after?.lag ?? 'not judged'} now.`,
    );
  }
  if (!before || !after) return;
  const u = width(before.intervalMs);
  note('fixed delay', region, null, [before.fixedDelayMs, after.fixedDelayMs], u);
  note('fixed delay, lower end', region, null, [before.intervalMs[0], after.intervalMs[0]], u);
  note('fixed delay, upper end', region, null, [before.intervalMs[1], after.intervalMs[1]], u);
  note('jitter', region, null, [before.jitterMs, after.jitterMs], width(before.jitterIntervalMs));
}

/** Standard uncertainty behind a 95 % interval. */
function width([low, high]: readonly [number, number]): number {
  return (high - low) / INTERVAL_WIDTH_U;
}

/** Numbers of the whole clip first among equals, since they are what is quoted. */
function gravity(n: MovedNumber): number {
  return (n.beyond ? 1e9 : 0) + Math.abs(n.inUncertainties ?? n.differenceMs) + (n.press === null ? 1e6 : 0);
}

/** Differences of rounded numbers, without the dust of binary fractions. */
function round(value: number): number {
  return Number(value.toFixed(4)) + 0;
}
