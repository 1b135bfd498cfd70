/**
 * Whether changes come at one phase of a light's rhythm. A display changes its picture once a refresh: where its light
 * comes on once a refresh, too, all changes of a region lie on one lattice. A dimmer's rhythm knows nothing of them.
 */
import type { EdgePosterior } from './edgeFit.js';

/** One edge: its time and its direction. */
export interface TimedEdge {
  /** Where the posterior's times count from, capture periods from the first frame's timestamp. */
  readonly originT: number;
  readonly posterior: EdgePosterior;
  readonly sign: 1 | -1;
}

/** Phases of a region's changes in the rhythm. */
export interface Lattice {
  /**
   * Log of the odds that the changes lie on a lattice of the rhythm's period, against at any phase; both alike
   * beforehand, brighter and darker changes each at a phase of its own.
   */
  readonly odds: number;
  readonly periodT: number;
  /** Posterior density of the lattice's phase, mean 1 over the period, for each sign; flat where nothing is known. */
  readonly rise: Float64Array;
  readonly fall: Float64Array;
}

const BINS = 48;
// Times of first light are known to this part of a rhythm's period at best (form of the response; judgement).
const SPREAD = 0.04;
/** Rows that change while the light is on scatter by so much about the lattice (simulated displays with black frames). */
export const WIDE_SPREAD = 0.15;
// Share of edges that may lie anywhere: the odd false one.
const STRAY = 0.1;
// A single edge cannot tell whether it lies on a lattice.
const LEAST_EDGES = 3;

/**
 * The lattice of a region's edges of one kind.
 * @param spread how far edges lie from it, share of the period.
 */
export function latticeOf(edges: readonly TimedEdge[], periodT: number, spread = SPREAD): Lattice {
  let odds = 0;
  const phasesOf = (sign: 1 | -1): Float64Array => {
    const own = edges.filter((e) => e.sign === sign);
    if (own.length < LEAST_EDGES) return new Float64Array(BINS).fill(1);
    const logs = new Float64Array(BINS);
    for (const edge of own) {
      const density = phaseDensity(edge, periodT, spread);
      for (let b = 0; b < BINS; b++) logs[b]! += Math.log(STRAY + (1 - STRAY) * density[b]!);
    }
    const top = logs.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
    const mean = logs.reduce((sum, l) => sum + Math.exp(l - top) / BINS, 0);
    odds += top + Math.log(mean);
    return smoothed(
      logs.map((l) => Math.exp(l - top) / mean),
      spread,
    );
  };
  const rise = phasesOf(1);
  const fall = phasesOf(-1);
  return { odds, periodT, rise, fall };
}

/** An edge that is believed to lie on the lattice of all of them, unless its light says otherwise clearly. */
export function onLattice<E extends TimedEdge>(edge: E, { periodT, rise, fall }: Lattice): E {
  const density = edge.sign > 0 ? rise : fall;
  const { lowT, stepT, weights } = edge.posterior.grid;
  const at = (i: number) => density[binOf(edge.originT + lowT + i * stepT, periodT)]!;
  const pulled = weights.map((w, i) => w * (STRAY + (1 - STRAY) * at(i)));
  const top = pulled.reduce((best, w, i) => (w > pulled[best]! ? i : best), 0);
  return {
    ...edge,
    posterior: {
      ...edge.posterior,
      mapT: lowT + top * stepT,
      grid: { lowT, stepT, weights: pulled },
    },
  };
}

function binOf(t: number, periodT: number): number {
  const turns = t / periodT;
  return Math.min(BINS - 1, Math.floor((turns - Math.floor(turns)) * BINS));
}

/** Density of an edge's phase, mean 1 over the period. */
function phaseDensity({ originT, posterior }: TimedEdge, periodT: number, spread: number): Float64Array {
  const { lowT, stepT, weights } = posterior.grid;
  const sharp = new Float64Array(BINS);
  const total = weights.reduce((a, b) => a + b, 0);
  weights.forEach((w, i) => {
    sharp[binOf(originT + lowT + i * stepT, periodT)]! += (BINS * w) / total;
  });
  return smoothed(sharp, spread);
}

function smoothed(sharp: Float64Array, spread: number): Float64Array {
  const reach = Math.ceil(3 * spread * BINS);
  const kernel = Float64Array.from({ length: 2 * reach + 1 }, (_, i) =>
    Math.exp(-0.5 * ((i - reach) / (spread * BINS)) ** 2),
  );
  const norm = kernel.reduce((a, b) => a + b, 0);
  return sharp.map((_, b) => {
    let sum = 0;
    for (let i = -reach; i <= reach; i++) sum += kernel[i + reach]! * sharp[(b + i + BINS) % BINS]!;
    return sum / norm;
  });
}
