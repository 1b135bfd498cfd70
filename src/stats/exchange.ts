/** Shift between two groups by exchanging their members: a permutation test, inverted into a distribution. */
import { normalCdf, normalQuantile } from '../numeric/normal.js';
import { seededRandom } from '../numeric/seededRandom.js';
import {
  densityMoments,
  type GridDensity,
  normalised,
  probabilityBelow,
  totalWeight,
} from './gridDensity.js';

/** Random splits that are looked at: a tail of 2.5 % is known within a fifth of itself. */
const SPLITS = 1000;
/** The same every time, so that the same records give the same comparison. */
const SEED = 20_261;
/** Trial shifts lie this share of the first guess's sd apart ... */
const SPACING = 0.35;
/** ... and end beyond this tail, which the splits still resolve ... */
const RESOLVED_TAIL = 4 / (SPLITS + 1);
/** ... or this many trials from the middle. */
export const MOST_TRIALS = 20;

/**
 * Ways to draw `first` of `total` members, at random and the same every time. Half as many where that is half of them:
 * whoever is left is then a draw, too, with the opposite difference.
 */
export function randomSplits(total: number, first: number): Uint16Array[] {
  const random = seededRandom(SEED);
  const members = Uint16Array.from({ length: total }, (_, i) => i);
  return Array.from({ length: 2 * first === total ? SPLITS / 2 : SPLITS }, () => {
    for (let i = 0; i < first; i += 1) {
      const j = i + random.integer(total - i);
      const kept = members[i]!;
      members[i] = members[j]!;
      members[j] = kept;
    }
    return members.slice(0, first);
  });
}

/** Differences between two groups after the first was moved back by a trial shift. */
export interface Exchanged {
  readonly observed: number;
  /** The same for each of `randomSplits`. */
  readonly splits: ArrayLike<number>;
}

/**
 * Distribution of a shift whose every tail is the level of a permutation test: where the groups differ by nothing but
 * a shift, its intervals have their confidence whatever the law of the members (Fisher 1935 sec. 21; inversion: Good,
 * Permutation, Parametric and Bootstrap Tests of Hypotheses, 3rd ed. 2005, sec. 3.2). Beyond what the splits resolve the
 * tails are those of `guess`, scaled to meet.
 * @param guess distribution that says where to look; the result stands on its lattice
 * @param exchangedAt the differences at the trial shift `centre + trial * spacing`
 */
export function shiftByExchange(
  guess: GridDensity,
  exchangedAt: (trial: number, shift: number) => Exchanged,
): GridDensity {
  const { mean: centre } = densityMoments(guess);
  const spacing = trialSpacing(guess);
  const tailBelow = (trial: number): number => shareAbove(exchangedAt(trial, centre + trial * spacing));
  const below = [tailBelow(0)];
  let first = 0;
  while (first > -MOST_TRIALS && below[0]! > RESOLVED_TAIL) {
    first -= 1;
    below.unshift(Math.min(below[0]!, tailBelow(first)));
  }
  for (let trial = 1; trial <= MOST_TRIALS && below.at(-1)! < 1 - RESOLVED_TAIL; trial += 1) {
    below.push(Math.max(below.at(-1)!, tailBelow(trial)));
  }
  return onLattice(guess, centre + first * spacing, spacing, below);
}

/** Distance between trial shifts. */
export function trialSpacing(guess: GridDensity): number {
  return SPACING * densityMoments(guess).sd;
}

/** Share of splits above the observed difference, itself counted by half: evidence that the shift is smaller. */
function shareAbove({ observed, splits }: Exchanged): number {
  let above = 0;
  const count = (difference: number): void => {
    if (difference > observed) above += 1;
    else if (difference === observed) above += 0.5;
  };
  const mirrored = splits.length < SPLITS;
  for (let i = 0; i < splits.length; i += 1) {
    count(splits[i]!);
    if (mirrored) count(-splits[i]!);
  }
  return (above + 0.5) / (SPLITS + 1);
}

/** Normal scores are interpolated between the trial shifts, which suits tails better than probabilities. */
function onLattice(guess: GridDensity, from: number, spacing: number, below: readonly number[]): GridDensity {
  const { step } = guess;
  const to = from + (below.length - 1) * spacing;
  const first = Math.min(guess.first, Math.floor(from / step) - 1);
  const last = Math.max(guess.first + guess.weights.length - 1, Math.ceil(to / step) + 1);
  const scores = below.map(normalQuantile);
  const total = totalWeight(guess);
  const [guessBelow, guessAbove] = [probabilityBelow(guess, from), 1 - probabilityBelow(guess, to)];
  const [tailBelow, tailAbove] = [below[0]!, 1 - below.at(-1)!];
  const weights = new Float64Array(last - first + 1);
  for (let i = 0; i < weights.length; i += 1) {
    const [start, end] = [(first + i - 0.5) * step, (first + i + 0.5) * step];
    const middle = cumulative(end) - cumulative(start);
    const guessed = (guess.weights[first + i - guess.first] ?? 0) / total;
    // The two points at the ends of the trials lie on both sides of them; a step is far below the spacing.
    if (end <= from) weights[i] = guessBelow > 0 ? (guessed * tailBelow) / guessBelow : 0;
    else if (start >= to) weights[i] = guessAbove > 0 ? (guessed * tailAbove) / guessAbove : 0;
    else weights[i] = middle;
  }
  return normalised({ step, first, weights });

  function cumulative(x: number): number {
    const at = Math.min(below.length - 1, Math.max(0, (x - from) / spacing));
    const k = Math.min(below.length - 2, Math.floor(at));
    return normalCdf(scores[k]! + (at - k) * (scores[k + 1]! - scores[k]!));
  }
}
