/** The display's own clock, read off the times at which responses appear: they fall on psi + k R. */
import { expected } from '../errors.js';
import { fitLine, type LineFit } from '../numeric/leastSquares.js';
import { checkSample } from './sample.js';

/** A lattice of response times, or why there is none. Times in ms. */
export interface LatticeFit {
  /** Whether the times lie on a lattice beyond chance and closely enough to number its points. */
  readonly found: boolean;
  /** In words, where `found` is false. */
  readonly reason: string | null;
  readonly n: number;
  readonly periodMs: number;
  readonly periodUncertaintyMs: number;
  /** Time of a lattice point near the middle of the data. */
  readonly phaseMs: number;
  readonly phaseUncertaintyMs: number;
  /** |mean of exp(2 pi i t / R)|, 0..1. */
  readonly resultantLength: number;
  /** Probability that evenly scattered times reach this resultant anywhere in the range that was searched. */
  readonly falseAlarmProbability: number;
  /** Scatter of the times about the lattice (display, onset and camera jitter together). */
  readonly residualSdMs: number;
}

/** Where to look. */
export interface LatticeOptions {
  /** Periods that are possible, ms, for example 1000/60 and 1000/50. Not multiples of each other, or longest wins. */
  readonly candidatesMs: readonly number[];
  /** Relative range searched about each candidate, default 0.005 (consoles run up to 0.3 % off the nominal rate). */
  readonly searchShare?: number;
  /** Known standard uncertainty of each time, ms: a floor to the scatter where few times fit too well by chance. */
  readonly uncertaintyMs?: number;
}

const FALSE_ALARM_LIMIT = 1e-3;
/** Above this scatter, in periods, times cannot be numbered: one in a hundred would be off by a period. */
const LARGEST_SCATTER = 0.18;
/** A shorter candidate must raise the resultant by more than this to win over a longer one that fits too. */
const LONGER_WINS = 0.05;

/**
 * Finds period and phase of a lattice: the period that maximises |mean exp(2 pi i t / R)| near the candidates, then a
 * least-squares line of time against number. A lattice of R also fits R/2, R/3, ...: the longest good candidate wins.
 * @param timesMs response times of one region on the capture clock, at least 4, any order
 */
export function fitLattice(timesMs: ArrayLike<number>, options: LatticeOptions): LatticeFit {
  checkSample('timesMs', timesMs, 4);
  const { candidatesMs, searchShare = 0.005, uncertaintyMs = 0 } = options;
  if (candidatesMs.length === 0) throw expected('candidatesMs', 'at least one period', 0);
  for (const c of candidatesMs) if (!(c > 0)) throw expected('candidatesMs', 'positive periods', c);
  if (!(searchShare > 0 && searchShare < 0.5))
    throw expected('searchShare', 'between 0 and 0.5', searchShare);

  const times = Float64Array.from(timesMs).sort();
  const middle = times[times.length >> 1]!;
  const spanMs = times[times.length - 1]! - times[0]!;
  const longestFirst = [...candidatesMs].sort((a, b) => b - a);
  let best: Peak | null = null;
  let trials = 0;
  for (const candidate of longestFirst) {
    const peak = searchPeriod(times, middle, spanMs, candidate, searchShare);
    trials += peak.trials;
    if (best === null || peak.resultant > best.resultant + LONGER_WINS) best = peak;
  }
  const { periodMs, resultant } = best!;
  const fit = numberAndFit(times, middle, periodMs);
  const { line } = fit;
  const scatter = Math.max(line.residualSd, uncertaintyMs);
  const inflate = line.residualSd > 0 ? scatter / line.residualSd : 1;
  const falseAlarmProbability = falseAlarm(times.length, resultant, trials);
  let reason: string | null = null;
  if (falseAlarmProbability > FALSE_ALARM_LIMIT) {
    reason = `the response times do not fall on a lattice (probability by chance ${falseAlarmProbability.toPrecision(2)})`;
  } else if (scatter > LARGEST_SCATTER * line.slope) {
    reason = `the response times scatter by ${scatter.toFixed(1)} ms about the lattice, too much to number its points`;
  }
  return {
    found: reason === null,
    reason,
    n: times.length,
    periodMs: line.slope,
    periodUncertaintyMs:
      line.residualSd > 0 ? line.slopeUncertainty * inflate : uncertaintyOf(fit.numbers, scatter),
    phaseMs: middle + line.intercept,
    phaseUncertaintyMs:
      line.residualSd > 0 ? line.interceptUncertainty * inflate : scatter / Math.sqrt(times.length),
    resultantLength: resultant,
    falseAlarmProbability,
    residualSdMs: line.residualSd,
  };
}

interface Peak {
  readonly periodMs: number;
  readonly resultant: number;
  /** Independent periods looked at. */
  readonly trials: number;
}

/** Steps of an eighth of the resolution in frequency, then three parabolic refinements by ternary search. */
function searchPeriod(
  times: Float64Array,
  middle: number,
  spanMs: number,
  candidateMs: number,
  searchShare: number,
): Peak {
  const low = 1 / (candidateMs * (1 + searchShare));
  const high = 1 / (candidateMs * (1 - searchShare));
  const resolution = 1 / Math.max(spanMs, candidateMs);
  const steps = Math.max(8, Math.ceil((8 * (high - low)) / resolution));
  let bestF = low;
  let bestLength = -1;
  for (let k = 0; k <= steps; k += 1) {
    const f = low + ((high - low) * k) / steps;
    const length = resultantLength(times, middle, f);
    if (length > bestLength) [bestF, bestLength] = [f, length];
  }
  let step = (high - low) / steps;
  for (let round = 0; round < 30; round += 1) {
    step /= 2;
    for (const f of [bestF - step, bestF + step]) {
      const length = resultantLength(times, middle, f);
      if (length > bestLength) [bestF, bestLength] = [f, length];
    }
  }
  return { periodMs: 1 / bestF, resultant: bestLength, trials: 1 + (high - low) / resolution };
}

function resultantLength(times: Float64Array, middle: number, frequency: number): number {
  let c = 0;
  let s = 0;
  for (let i = 0; i < times.length; i += 1) {
    const turns = (times[i]! - middle) * frequency;
    const angle = 2 * Math.PI * (turns - Math.round(turns));
    c += Math.cos(angle);
    s += Math.sin(angle);
  }
  return Math.hypot(c, s) / times.length;
}

function numberAndFit(
  times: Float64Array,
  middle: number,
  periodMs: number,
): { line: LineFit; numbers: Float64Array } {
  let period = periodMs;
  let phase = meanPhase(times, middle, periodMs);
  const relative = times.map((t) => t - middle);
  let numbers = relative.map((t) => Math.round((t - phase) / period));
  let line = lineOrFlat(numbers, relative, period);
  for (let round = 0; round < 3; round += 1) {
    [period, phase] = [line.slope, line.intercept];
    const again = relative.map((t) => Math.round((t - phase) / period));
    if (again.every((k, i) => k === numbers[i])) break;
    numbers = again;
    line = lineOrFlat(numbers, relative, period);
  }
  return { line, numbers };
}

/** All times on one lattice point say nothing about the period: keep the candidate. */
function lineOrFlat(numbers: Float64Array, relative: Float64Array, period: number): LineFit {
  if (numbers.some((k) => k !== numbers[0])) return fitLine(numbers, relative);
  throw expected('timesMs', `spread over more than one period of ${period.toFixed(3)} ms`, 'all within one');
}

function meanPhase(times: Float64Array, middle: number, periodMs: number): number {
  let c = 0;
  let s = 0;
  for (const t of times) {
    const angle = (2 * Math.PI * (t - middle)) / periodMs;
    c += Math.cos(angle);
    s += Math.sin(angle);
  }
  return (Math.atan2(s, c) * periodMs) / (2 * Math.PI);
}

function uncertaintyOf(numbers: Float64Array, scatter: number): number {
  const centre = numbers.reduce((a, b) => a + b, 0) / numbers.length;
  return scatter / Math.sqrt(numbers.reduce((sum, k) => sum + (k - centre) ** 2, 0));
}

/** Rayleigh's e^-z with z = n r^2 for one period; 1 - (1 - e^-z)^trials for the best of several. */
function falseAlarm(n: number, resultant: number, trials: number): number {
  const single = Math.exp(-n * resultant * resultant);
  return -Math.expm1(trials * Math.log1p(-Math.min(single, 1 - Number.EPSILON)));
}
