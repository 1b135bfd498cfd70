/** Changes that move the light the same way are one kind: their common direction is known better than any single one. */
import { meanLight, type Trace } from '../trace/trace.js';
import type { Change } from './changes.js';

/** A kind of change. */
export interface Kind {
  /** Sum of the members' steps (sign 1 counted forwards), one a cell. */
  readonly direction: Float64Array;
  readonly members: readonly { readonly change: Change; readonly sign: 1 | -1 }[];
}

// Below this cosine two changes are different things (noise lowers the cosine of equal ones).
const LEAST_COSINE = 0.6;

/**
 * Groups changes by the direction of their step in noise-weighted cell space, strongest first.
 * @param noise standard deviation of each cell.
 */
export function groupKinds(changes: readonly Change[], noise: Float32Array): Kind[] {
  const weight = Float64Array.from(noise, (sd) => 1 / (sd * sd));
  const dot = (a: Float64Array, b: Float64Array) => {
    let sum = 0;
    for (let c = 0; c < a.length; c++) sum += a[c]! * b[c]! * weight[c]!;
    return sum;
  };
  const kinds: { direction: Float64Array; members: { change: Change; sign: 1 | -1 }[] }[] = [];
  for (const change of [...changes].sort((a, b) => b.energy - a.energy || a.frame - b.frame)) {
    const own = Math.sqrt(dot(change.step, change.step));
    let best: { kind: (typeof kinds)[number]; cosine: number } | null = null;
    for (const kind of kinds) {
      const cosine =
        dot(change.step, kind.direction) / (own * Math.sqrt(dot(kind.direction, kind.direction)));
      if (!best || Math.abs(cosine) > Math.abs(best.cosine)) best = { kind, cosine };
    }
    if (best && Math.abs(best.cosine) >= LEAST_COSINE) {
      const sign = best.cosine > 0 ? 1 : -1;
      best.kind.members.push({ change, sign });
      for (let c = 0; c < change.step.length; c++) best.kind.direction[c]! += sign * change.step[c]!;
    } else {
      kinds.push({ direction: Float64Array.from(change.step), members: [{ change, sign: 1 }] });
    }
  }
  return kinds.map(({ direction, members }) => {
    // Sign 1 is the way to more light, so that pulses and plateaus read upwards.
    const flip = direction.reduce((sum, d) => sum + d, 0) < 0;
    return {
      direction: flip ? direction.map((d) => -d) : direction,
      members: members
        .map(({ change, sign }) => ({ change, sign: flip ? ((sign * -1) as 1 | -1) : sign }))
        .sort((a, b) => a.change.frame - b.change.frame),
    };
  });
}

/**
 * The kinds with their directions taken from settled frames only. A candidate's own step is cut short at the lines
 * that are drawn first and last, which would tilt the weights of the region's rows.
 * @param guardFrames frames around a change that may still belong to it.
 */
export function settleKinds(trace: Trace, kinds: readonly Kind[], guardFrames: number): Kind[] {
  const frames = kinds.flatMap((kind) => kind.members.map((m) => m.change.frame)).sort((a, b) => a - b);
  return kinds.map((kind) => {
    const direction = new Float64Array(kind.direction.length);
    for (const { change, sign } of kind.members) {
      const step = settledStep(trace, change, frames, guardFrames);
      for (let c = 0; c < step.length; c++) direction[c]! += sign * step[c]!;
    }
    return { ...kind, direction };
  });
}

function settledStep(
  trace: Trace,
  change: Change,
  allFrames: readonly number[],
  guard: number,
): Float64Array {
  const { frame } = change;
  let previous = 0;
  let next = trace.frames;
  for (const other of allFrames) {
    if (other < frame) previous = other;
    if (other > frame) {
      next = other;
      break;
    }
  }
  const before = [Math.max(previous + guard, frame - 4 * guard), frame - guard] as const;
  const after = [frame + guard, Math.min(next - guard, frame + 4 * guard)] as const;
  if (before[1] - before[0] < 2 || after[1] - after[0] < 2) return change.step;
  const low = meanLight(trace, before[0], before[1]);
  const high = meanLight(trace, after[0], after[1]);
  return high.map((v, c) => v - low[c]!);
}

// A change of less than this share of the usual energy is what cleaning left of the pulses.
const WEAK = 0.1;

function usualEnergy(energies: readonly number[]): number {
  // The fourth largest: false changes may outnumber true ones, and a hand before the lens is larger than either.
  const sorted = [...energies].sort((a, b) => b - a);
  return sorted[Math.min(3, sorted.length - 1)] ?? 0;
}

/**
 * Changes of pulsed light, ready to be grouped: weak ones and echoes of stronger ones left out, and the step taken
 * from settled frames, because rows are lit at different times and a short window catches only some of them.
 */
export function steadyChanges(trace: Trace, changes: readonly Change[], guardFrames: number): Change[] {
  const usual = usualEnergy(changes.map((c) => c.energy));
  const kept: Change[] = [];
  for (const change of changes) {
    if (change.energy < WEAK * usual) continue;
    const last = kept[kept.length - 1];
    if (!last || change.frame - last.frame > 1.5 * guardFrames) kept.push(change);
    else if (change.energy > last.energy) kept[kept.length - 1] = change;
  }
  const frames = kept.map((c) => c.frame);
  return kept.map((c) => ({ ...c, step: settledStep(trace, c, frames, guardFrames) }));
}

/**
 * The kinds without the false changes that pulsed light leaves: parts of one change (same sign, close together) are
 * made one, weak ones go.
 */
export function pruneKinds(kinds: readonly Kind[], guardFrames: number): Kind[] {
  const usual = usualEnergy(kinds.flatMap((k) => k.members.map((m) => m.change.energy)));
  return kinds.flatMap((kind) => {
    const kept: Kind['members'][number][] = [];
    for (const member of kind.members) {
      if (member.change.energy < WEAK * usual) continue;
      const last = kept[kept.length - 1];
      const near = last && member.change.frame - last.change.frame <= 2 * guardFrames;
      if (!near || last.sign !== member.sign) kept.push(member);
      else if (member.change.energy > last.change.energy) kept[kept.length - 1] = member;
    }
    return kept.length > 0 ? [{ ...kind, members: kept }] : [];
  });
}

// Changes that come by a clock: so many of the gaps are the usual one, and so many a multiple of it, to a frame.
const FEW = 6;
const USUAL_SHARE = 0.6;
const MULTIPLE_SHARE = 0.9;
const ON_TIME_FRAMES = 1.5;

/**
 * The kinds without those that come by a clock, as long as another does not. Nobody presses so; pulses that meet the frames
 * at the same few phases do, and what cleaning leaves of one phase then looks like a change.
 */
export function untimedKinds(kinds: readonly Kind[]): readonly Kind[] {
  const untimed = kinds.filter((kind) => !isClockwork(kind));
  return untimed.some(({ members }) => members.length >= FEW) ? untimed : kinds;
}

function isClockwork({ members }: Kind): boolean {
  if (members.length < FEW) return false;
  const gaps = members.slice(1).map(({ change }, i) => change.frame - members[i]!.change.frame);
  const usual = gaps.toSorted((a, b) => a - b)[gaps.length >> 1]!;
  const isMultiple = (gap: number) => Math.abs(gap - usual * Math.round(gap / usual)) <= ON_TIME_FRAMES;
  const alike = gaps.filter((gap) => Math.abs(gap - usual) <= ON_TIME_FRAMES).length;
  return alike >= USUAL_SHARE * gaps.length && gaps.filter(isMultiple).length >= MULTIPLE_SHARE * gaps.length;
}

/** Direction to project on: the kind's step weighted by 1/variance, scaled so that its mean step reads 1. */
export function projector(kind: Kind, noise: Float32Array): Float64Array {
  const out = new Float64Array(noise.length);
  let norm = 0;
  for (let c = 0; c < noise.length; c++) {
    const mean = kind.direction[c]! / kind.members.length;
    out[c] = mean / noise[c]! ** 2;
    norm += mean * out[c]!;
  }
  return out.map((v) => v / norm);
}
