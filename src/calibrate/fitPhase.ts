/**
 * The phase of a light over coded rows and camera frames, phase(j, k) = 2 pi f (k T + j t_l) + constant, by least
 * squares over all rows and frames at once. The light may have any waveform: its first overtones are fitted with it.
 */
import { invertSymmetric, timesVector } from '../numeric/solveSymmetric.js';
import type { Flicker } from './flicker.js';

/** The law of the phase. */
export interface PhaseLaw {
  /** Cycles of the light from one camera frame to the next, less an unknown whole number. */
  readonly advance: number;
  /** Cycles over the coded height. */
  readonly bandsPerPicture: number;
}

/** A fitted law. */
export interface PhaseFit extends PhaseLaw {
  /** Standard uncertainties from the scatter of rows and frames (covariance). */
  readonly advanceSd: number;
  readonly bandsSd: number;
  /** Relative amplitude of the light's first harmonic as the rows see it. */
  readonly modulation: number;
  /** Its standard uncertainty. */
  readonly modulationSd: number;
  /** Pieces of the clip one after another, to look for wander and jumps. */
  readonly wander: readonly PhaseBlock[];
  /** Pieces of the rows from the first to the last, to look for rows that were moved or smeared. */
  readonly bend: readonly RowPhase[];
}

/** What one piece of the clip says by itself. */
export interface PhaseBlock {
  /** Middle of the piece, captured frame number from the clip's middle. */
  readonly middle: number;
  /** Phase beside the law, cycles. */
  readonly phase: number;
  /** Bands beside the law, cycles over the coded height. */
  readonly bands: number;
}

/** What one piece of the rows says by itself. */
export interface RowPhase {
  /** Share of the coded height, from the middle of the rows that are there. */
  readonly middle: number;
  /** Phase beside the law, cycles. */
  readonly phase: number;
}

/** Pieces of the clip, and of the rows, whose scatter checks the covariance. */
const BLOCKS = 8;
const ROUNDS = 8;

/**
 * Fits from a start within about an eighth of a cycle of the truth over the whole clip.
 * @param harmonics 1 for the first look, more for the light's waveform
 * @returns null where rows and frames do not determine the law
 */
export function fitPhase(flicker: Flicker, start: PhaseLaw, harmonics: number): PhaseFit | null {
  const centre = centreOf(flicker);
  let law = start;
  let waveform = fitStep(flicker, centre, law, new Float64Array(2 * harmonics), false)?.waveform;
  if (!waveform) return null;
  for (let round = 0; round < ROUNDS; round++) {
    const step = fitStep(flicker, centre, law, waveform, true);
    if (!step) return null;
    law = {
      advance: law.advance + step.advance,
      bandsPerPicture: law.bandsPerPicture + step.bandsPerPicture,
    };
    waveform = step.waveform;
    if (
      Math.abs(step.advance) < 0.01 * step.advanceSd &&
      Math.abs(step.bandsPerPicture) < 0.01 * step.bandsSd
    )
      break;
  }
  const last = fitStep(flicker, centre, law, waveform, true);
  if (!last) return null;
  return {
    ...law,
    advanceSd: last.advanceSd,
    bandsSd: last.bandsSd,
    modulation: Math.hypot(waveform[0]!, waveform[1]!),
    modulationSd: last.modulationSd,
    ...piecePhases(flicker, centre, law, waveform),
  };
}

interface Centre {
  readonly frame: number;
  readonly position: number;
}

function centreOf({ frameNumber, position, weight }: Flicker): Centre {
  let sum = 0;
  let mean = 0;
  for (let b = 0; b < position.length; b++) {
    sum += weight[b]!;
    mean += weight[b]! * position[b]!;
  }
  return {
    frame: frameNumber.reduce((a, n) => a + n, 0) / frameNumber.length,
    position: sum > 0 ? mean / sum : 0.5,
  };
}

/** Walks rows and frames with the angle of the law at each. */
function walk(
  { frameNumber, position, relative, weight, bands }: Flicker,
  centre: Centre,
  law: PhaseLaw,
  visit: (
    value: number,
    w: number,
    c: number,
    s: number,
    n: number,
    y: number,
    frame: number,
    band: number,
  ) => void,
): void {
  const rowCos = new Float64Array(bands);
  const rowSin = new Float64Array(bands);
  for (let b = 0; b < bands; b++) {
    const angle = 2 * Math.PI * law.bandsPerPicture * (position[b]! - centre.position);
    rowCos[b] = Math.cos(angle);
    rowSin[b] = Math.sin(angle);
  }
  for (let k = 0; k < frameNumber.length; k++) {
    const n = frameNumber[k]! - centre.frame;
    const angle = 2 * Math.PI * law.advance * n;
    const fc = Math.cos(angle);
    const fs = Math.sin(angle);
    for (let b = 0; b < bands; b++) {
      const w = weight[b]!;
      if (w === 0) continue;
      const c = fc * rowCos[b]! - fs * rowSin[b]!;
      const s = fs * rowCos[b]! + fc * rowSin[b]!;
      visit(relative[k * bands + b]!, w, c, s, n, position[b]! - centre.position, k, b);
    }
  }
}

interface Step {
  readonly advance: number;
  readonly bandsPerPicture: number;
  readonly advanceSd: number;
  readonly bandsSd: number;
  readonly modulationSd: number;
  readonly waveform: Float64Array;
}

/**
 * One Gauss-Newton step (with `free`), or the linear fit of the waveform alone. Where overtones cannot be told from
 * the first harmonic (few rows, or aliases that meet), a loose prior of amplitude 1/h keeps them from trading places.
 */
function fitStep(
  flicker: Flicker,
  centre: Centre,
  law: PhaseLaw,
  before: Float64Array,
  free: boolean,
): Step | null {
  const harmonics = before.length / 2;
  const first = free ? 2 : 0;
  const size = first + 2 * harmonics;
  const normal = new Float64Array(size * size);
  const right = new Float64Array(size);
  const row = new Float64Array(size);
  let squares = 0;
  let weights = 0;
  let count = 0;
  walk(flicker, centre, law, (value, w, c, s, n, y) => {
    let hc = c;
    let hs = s;
    let slope = 0;
    let model = 0;
    for (let h = 0; h < harmonics; h++) {
      const a = before[2 * h]!;
      const b = before[2 * h + 1]!;
      row[first + 2 * h] = hc;
      row[first + 2 * h + 1] = hs;
      model += a * hc + b * hs;
      slope += (h + 1) * (b * hc - a * hs);
      const next = hc * c - hs * s;
      hs = hs * c + hc * s;
      hc = next;
    }
    if (free) {
      row[0] = 2 * Math.PI * n * slope;
      row[1] = 2 * Math.PI * y * slope;
    }
    const miss = value - model;
    squares += w * miss * miss;
    weights += w;
    count++;
    for (let i = 0; i < size; i++) {
      const wi = w * row[i]!;
      right[i]! += wi * miss;
      for (let j = 0; j <= i; j++) normal[i * size + j]! += wi * row[j]!;
    }
  });
  if (count <= size) return null;
  // Weighted noise variance of a band of weight 1: E[w miss^2] is the same for every band.
  const variance = squares / (count - size);
  const scale = free ? Math.hypot(before[0]!, before[1]!) : Math.sqrt(squares / weights);
  for (let h = 1; h < harmonics; h++) {
    const prior = variance / Math.max(1e-12, (scale / (h + 1)) ** 2);
    for (const i of [first + 2 * h, first + 2 * h + 1]) {
      normal[i * size + i]! += prior;
      right[i]! -= prior * before[i - first]!;
    }
  }
  const covariance = invertSymmetric(normal, size);
  if (!covariance) return null;
  const step = timesVector(covariance, right);
  const sd = (i: number) => Math.sqrt(variance * covariance[i * size + i]!);
  return {
    advance: free ? step[0]! : 0,
    bandsPerPicture: free ? step[1]! : 0,
    advanceSd: free ? sd(0) : 0,
    bandsSd: free ? sd(1) : 0,
    modulationSd: sd(first),
    waveform: before.map((v, i) => v + step[first + i]!),
  };
}

/** Phase (and bands) of each piece of the clip and of the rows beside the common law, with the waveform held. */
function piecePhases(
  flicker: Flicker,
  centre: Centre,
  law: PhaseLaw,
  waveform: Float64Array,
): Pick<PhaseFit, 'wander' | 'bend'> {
  const frames = flicker.frameNumber.length;
  const clean = () => ({ x: 0, w: 0, pp: 0, py: 0, yy: 0, pm: 0, ym: 0 });
  const ofClip = Array.from({ length: BLOCKS }, clean);
  const ofRows = Array.from({ length: BLOCKS }, clean);
  walk(flicker, centre, law, (value, w, c, s, n, y, k, b) => {
    let hc = c;
    let hs = s;
    let slope = 0;
    let model = 0;
    for (let h = 0; 2 * h < waveform.length; h++) {
      model += waveform[2 * h]! * hc + waveform[2 * h + 1]! * hs;
      slope += (h + 1) * (waveform[2 * h + 1]! * hc - waveform[2 * h]! * hs);
      const next = hc * c - hs * s;
      hs = hs * c + hc * s;
      hc = next;
    }
    const p = 2 * Math.PI * slope;
    const miss = value - model;
    const piece = ofClip[Math.floor((k * BLOCKS) / frames)]!;
    const rows = ofRows[Math.floor((b * BLOCKS) / flicker.bands)]!;
    for (const [at, x] of [[piece, n] as const, [rows, y] as const]) {
      at.x += w * x;
      at.w += w;
      at.pp += w * p * p;
      at.py += w * p * p * y;
      at.yy += w * p * p * y * y;
      at.pm += w * p * miss;
      at.ym += w * p * y * miss;
    }
  });
  return {
    wander: ofClip
      .map(({ x, w, pp, py, yy, pm, ym }) => {
        const determinant = pp * yy - py * py;
        return {
          middle: x / w,
          phase: (pm * yy - ym * py) / determinant,
          bands: (ym * pp - pm * py) / determinant,
        };
      })
      .filter((block) => Number.isFinite(block.phase) && Number.isFinite(block.bands)),
    bend: ofRows.filter(({ pp }) => pp > 0).map(({ x, w, pp, pm }) => ({ middle: x / w, phase: pm / pp })),
  };
}
