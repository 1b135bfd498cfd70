/** Counting the flashes of a strobed backlight from each change's first one on, and what the level makes of the count. */
import { normalCdf } from '../numeric/normal.js';
import type { LineWeight } from './edgeShape.js';
import { firstInRange, type PulsedChange } from './pulsedChange.js';
import { type CountedChange, LEAD, type PulseShares, pulseShares, supposedShares } from './pulseShares.js';
import type { BandStates, FirstPulse } from './pulseStates.js';
import type { PulseTrain } from './pulseTrain.js';

const COUNTING_ROUNDS = 8;
const LEAST_WEIGHT = 0.05;
// Share of the new picture that the first flash is supposed to show, to begin with.
const SUPPOSED = [1, 0.65, 0.3] as const;
// Rise of the log evidence below which the counting has come to rest.
const SETTLED = 0.1;
// Shares that are measured on a single change explain it wherever it is counted from.
const LEAST_COUNTED = 2;
// Shares so far below none are no error of half-caught flashes.
const IMPOSSIBLE = 0.5;
const SUPPOSED_SD = 0.25;
const PARTLY = 0.12;

/** Shares as counted so far, with the log evidence of all changes under them. */
interface Counting {
  readonly shares: PulseShares;
  readonly log: number;
}

/** Shares of the flashes, rises and falls apart; counting the first flashes and measuring the shares take turns. */
export function sharesOf(
  changes: readonly PulsedChange[],
  states: readonly BandStates[],
  train: PulseTrain,
  lines: readonly LineWeight[],
  periodS: number,
  inSlices = false,
): { rise: PulseShares; fall: PulseShares } {
  const of = (sign: 1 | -1) => {
    const own = changes.filter((change) => change.crossing.sign === sign);
    const measured = (counted: readonly CountedChange[]) =>
      pulseShares(states, train, counted, sign > 0, lines, periodS, inSlices);
    const counted = (shares: PulseShares) => {
      let log = 0;
      const first = own.map((change) => {
        const found = firstInRange(change, states, train, shares, periodS);
        log += found.log;
        return found.chances
          .filter((c) => c.chance > LEAST_WEIGHT)
          .map(({ pulse, chance }) => ({ pulse, chance, frames: change.frames }));
      });
      return { log, first };
    };
    const settled = (start: PulseShares): Counting => {
      let shares = start;
      let log = Number.NEGATIVE_INFINITY;
      for (let round = 0; round < COUNTING_ROUNDS; round++) {
        const next = counted(shares);
        if (next.log < log + SETTLED) break;
        log = next.log;
        shares = measured(next.first.flat());
      }
      return { shares, log };
    };
    if (own.length < LEAST_COUNTED) {
      const supposed = SUPPOSED.map((share) => supposedShares(states.length, share, SUPPOSED_SD));
      return supposed.reduce((a, b) => (counted(b).log > counted(a).log + SETTLED ? b : a));
    }
    const better = (a: Counting, b: Counting) => (b.log > a.log + SETTLED ? b : a);
    // A flash that shows half of the new picture may be counted as the first one in some changes and not in others.
    let best = SUPPOSED.map((share) => settled(supposedShares(states.length, share))).reduce(better);
    for (let i = 0; i < own.length && isPartly(best.shares); i++) {
      for (const step of [-1, 1]) {
        const { first } = counted(best.shares);
        const moved = first.flatMap((list, k) =>
          k === i ? list.map((c) => ({ ...c, pulse: c.pulse + step })) : list,
        );
        best = better(best, settled(measured(moved)));
      }
    }
    return best.shares;
  };
  const [rise, fall] = [of(1), of(-1)];
  // No flash shows less than none of the new picture. Where one seems to, clearly, the train does not know its own light, and
  // all shares are as doubtful, whichever way the picture went.
  const below = -Math.min(0, ...rise.ofRegion, ...fall.ofRegion);
  if (below < IMPOSSIBLE) return { rise, fall };
  const doubtful = (shares: PulseShares) => ({ ...shares, sd: shares.sd.map((sd) => Math.hypot(sd, below)) });
  return { rise: doubtful(rise), fall: doubtful(fall) };
}

/** Whether some flash shows a part of the new picture only, as it does as well where changes are not counted alike. */
function isPartly({ ofRegion }: PulseShares): boolean {
  return ofRegion.some((share) => share > PARTLY && share < 1 - PARTLY);
}

/** Chance of each flash to be the first that shows the level. */
export function flashesPassing(
  chances: FirstPulse['chances'],
  { ofRegion, sd }: PulseShares,
  level: number,
): { pulse: number; chance: number }[] {
  const sums = new Map<number, number>();
  for (const { pulse, chance } of chances) {
    let left = chance;
    for (let j = 0; j < ofRegion.length && left > 1e-4; j++) {
      const passes = normalCdf((ofRegion[j]! - level) / sd[j]!);
      const n = pulse + j - LEAD;
      if (left * passes > 1e-4) sums.set(n, (sums.get(n) ?? 0) + left * passes);
      left *= 1 - passes;
    }
  }
  const total = [...sums.values()].reduce((a, b) => a + b, 0);
  return [...sums].map(([pulse, chance]) => ({ pulse, chance: chance / total }));
}

/** First flash, after the one that is counted from, that shows a share of the new picture. */
export function firstWith({ ofRegion }: PulseShares, share: number): number {
  const j = ofRegion.findIndex((s) => s >= share);
  return (j < 0 ? ofRegion.length : j) - LEAD;
}
