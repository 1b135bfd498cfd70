/**
 * How much of a new picture each flash of a strobed backlight shows: cells take a few flashes to settle. A display
 * changes at its own frames and flashes once in each, so that all changes of a clip run through the same shares; they
 * are measured over all of them, without a model of the cells.
 */
import { invertSymmetric, timesVector } from '../numeric/solveSymmetric.js';
import type { LineWeight } from './edgeShape.js';
import type { BandStates } from './pulseStates.js';
import type { PulseTrain } from './pulseTrain.js';

/** Shares of one sign of change. */
export interface PulseShares {
  /** Share of the new picture by band and flash, `LEAD` flashes before the one that is counted from first. */
  readonly ofBand: readonly Float64Array[];
  /** The whole region's, the lines weighted as they change. */
  readonly ofRegion: Float64Array;
  /** Standard uncertainty of it, flash by flash. */
  readonly sd: Float64Array;
}

/** A change with one of the flashes that may be its first one, and the frames that hold it and no other change. */
export interface CountedChange {
  readonly pulse: number;
  readonly chance: number;
  readonly frames: readonly [from: number, to: number];
}

/** Flashes that are looked at before and after the one that is counted from. */
export const LEAD = 3;
const FLASHES = 12;
// Pull of a flash that hardly any frame caught towards what is likely for it, in light of one whole flash.
const PULL = 0.02;
const BAND_PULL = 0.1;
// Tone curve and half-caught flashes leave this error of a share, and this part of it.
const SHARE_SD = 0.006;
const RELATIVE_SD = 0.08;
const PARTLY = [0.2, 0.85] as const;
const CLEAR_SD = 0.09;
// A flash that was caught by less than this part of the best one lies somewhere between its neighbours.
const LEAST_SEEN = 0.02;
const SETTLED_SHARE = 0.93;
const BEGUN_SHARE = 1 - SETTLED_SHARE;
const MOST_PARTLY = 0.7;
// A flash that begins as the picture changes shows more of the new one at its end: where only the same slice of each is
// seen, what the slice shows of a change that has hardly begun says little about the whole (simulated: 0.02 of 0.1).
const BEGUN_SLICE = 0.01;
const SLICE_SD = 0.1;

/**
 * Whether some flash clearly shows a part of the new picture only, in most bands: where a beam draws, a band has either
 * picture.
 */
export function isSettling({ ofBand, sd }: PulseShares): boolean {
  const isPartly = (share: number) => share > PARTLY[0] && share < PARTLY[1];
  return Array.from(sd).some((own, j) => {
    const partly = ofBand.filter((row) => isPartly(row[j]!)).length;
    return own < CLEAR_SD && partly >= MOST_PARTLY * ofBand.length;
  });
}

/**
 * Shares to begin with, the same in all bands: nothing, then `share` in the flash that is counted from, then all.
 * @param sd standard uncertainty of that flash's share.
 */
export function supposedShares(bands: number, share: number, sd = SHARE_SD): PulseShares {
  const row = Float64Array.from({ length: FLASHES }, (_, i) => (i < LEAD ? 0 : i === LEAD ? share : 1));
  return {
    ofBand: Array.from({ length: bands }, () => row),
    ofRegion: row,
    sd: row.map((_, i) => (i === LEAD ? sd : SHARE_SD)),
  };
}

/** Share of flash `j` after the one that is counted from, of a tabulated row; before it nothing, after it all. */
export function shareAt(row: Float64Array, j: number): number {
  if (j < -LEAD) return 0;
  return row[j + LEAD] ?? 1;
}

/**
 * Shares of the flashes around changes of one sign.
 * @param lines weights of the region's lines, which need not be the bands' own.
 * @param inSlices each flash is seen in the same part of it: the frames are locked to the flashes.
 */
export function pulseShares(
  states: readonly BandStates[],
  train: PulseTrain,
  changes: readonly CountedChange[],
  rising: boolean,
  lines: readonly LineWeight[],
  periodS: number,
  inSlices = false,
): PulseShares {
  const sums = states.map((s) => bandSums(s, train, changes, rising, periodS));
  const weights = states.map(({ band }) =>
    lines.reduce((sum, line) => sum + line.weight * overlap(line, band), 1e-9),
  );
  const total = weights.reduce((a, b) => a + b, 0);
  const whole = { gg: new Float64Array(FLASHES * FLASHES), gy: new Float64Array(FLASHES) };
  for (const { gg, gy } of sums) {
    gg.forEach((v, i) => {
      whole.gg[i]! += v;
    });
    gy.forEach((v, i) => {
      whole.gy[i]! += v;
    });
  }
  const count = Math.max(
    1,
    changes.reduce((sum, c) => sum + c.chance, 0),
  );
  const step = Float64Array.from({ length: FLASHES }, (_, i) => (i < LEAD ? 0 : 1));
  const pooled = solved(whole.gg, whole.gy, step, PULL * count * states.length);
  const found = onceSettled(pooled.shares);
  const common = onceBegun(found);
  const ofBand = sums.map(({ gg, gy }) =>
    onceBegun(onceSettled(solved(gg, gy, common, BAND_PULL * count).shares)),
  );
  const ofRegion = step.map((_, j) =>
    ofBand.reduce((sum, row, b) => sum + (weights[b]! / total) * row[j]!, 0),
  );
  const seen = step.map((_, j) => whole.gg[j * FLASHES + j]!);
  const fullest = Math.max(1e-9, ...seen);
  // Frames scatter about both pictures by this part of the step.
  const scatter = states.reduce(
    (sum, s) => sum + Math.sqrt(s.variance) / Math.abs(s.bright - s.dim) / states.length,
    0,
  );
  const sd = step.map((_, j) => {
    const own = Math.hypot(SHARE_SD, RELATIVE_SD * ofRegion[j]!, scatter * pooled.perScatter[j]!);
    const unseen = 1 - Math.min(1, seen[j]! / (LEAST_SEEN * fullest));
    const between = Math.abs((ofRegion[j + 1] ?? 1) - (ofRegion[j - 1] ?? 0)) / Math.sqrt(12);
    const mayBeMore = inSlices && found[j]! > BEGUN_SLICE && common[j] === 0;
    return Math.hypot(own, unseen * between, mayBeMore ? SLICE_SD : 0);
  });
  return { ofBand, ofRegion, sd };
}

function overlap(line: LineWeight, band: { readonly from: number; readonly extent: number }): number {
  const both = Math.min(line.from + line.extent, band.from + band.extent) - Math.max(line.from, band.from);
  return line.extent > 0 ? Math.max(0, both) / line.extent : 0;
}

/** Normal equations of one band's shares. */
function bandSums(
  { band, dim, bright, startT, come }: BandStates,
  { periodT, exposure }: PulseTrain,
  changes: readonly CountedChange[],
  rising: boolean,
  periodS: number,
): { gg: Float64Array; gy: Float64Array } {
  const gg = new Float64Array(FLASHES * FLASHES);
  const gy = new Float64Array(FLASHES);
  const [before, after] = rising ? [dim, bright] : [bright, dim];
  const step = after - before;
  for (const { pulse, chance, frames } of changes) {
    for (let k = frames[0]; k < frames[1]; k++) {
      const since = band.openS[k]! / periodS - startT;
      const last = Math.floor((since + exposure) / periodT);
      const caught: { j: number; g: number }[] = [];
      let rest = band.signal[k]!;
      for (let n = last - 2; n <= last; n++) {
        const g = come(since + exposure - n * periodT) - come(since - n * periodT);
        if (g <= 0) continue;
        const j = n - pulse + LEAD;
        rest -= g * (j >= FLASHES ? after : before);
        if (j >= 0 && j < FLASHES) caught.push({ j, g });
      }
      for (const a of caught) {
        gy[a.j]! += (chance * a.g * rest) / step;
        for (const b of caught) gg[a.j * FLASHES + b.j]! += chance * a.g * b.g;
      }
    }
  }
  return { gg, gy };
}

/** Cells that show all of the new picture go on to do so: what half-caught flashes say beyond that is the error of the model. */
function onceSettled(shares: Float64Array): Float64Array {
  const from = shares.findIndex((s, i) => i >= LEAD && s > SETTLED_SHARE);
  return from < 0 ? shares : shares.map((s, i) => (i > from ? 1 : Math.min(s, 1)));
}

/** Nor does a change begin before its first light: shares about none before it are the same error. */
function onceBegun(shares: Float64Array): Float64Array {
  const from = shares.findIndex((s) => s > BEGUN_SHARE);
  return from < 0 ? shares : shares.map((s, i) => (i < from ? 0 : s));
}

/** Shares by least squares, each pulled towards what is likely for it, and how much scatter of a frame makes of each. */
function solved(
  gg: Float64Array,
  gy: Float64Array,
  likely: Float64Array,
  pull: number,
): { readonly shares: Float64Array; readonly perScatter: Float64Array } {
  const matrix = gg.map((v, i) => (i % (FLASHES + 1) === 0 ? v + pull : v));
  const inverse = invertSymmetric(matrix, FLASHES);
  if (!inverse) return { shares: likely, perScatter: new Float64Array(FLASHES) };
  const shares = timesVector(
    inverse,
    gy.map((v, i) => v + pull * likely[i]!),
  );
  return { shares, perScatter: shares.map((_, j) => Math.sqrt(Math.max(0, inverse[j * (FLASHES + 1)]!))) };
}
