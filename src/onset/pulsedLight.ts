/** Which kind of pulsed light a screen shows: a backlight behind a gate, a tube's beam, or something without a rule. */
import { everyStepAnew, type Remember } from '../remember.js';
import type { Trace } from '../trace/trace.js';
import { type Beat, findBeat } from './beat.js';
import { UNSTATED_REFRESH_HZ } from './beatRates.js';
import { beatOfOnePicture } from './equalPictures.js';
import { fitGate } from './fitGate.js';
import type { Gate } from './gate.js';
import { flashesOf } from './gateTrain.js';
import type { PulsedBands } from './pulsedBands.js';
import { fitPulseTrain, type PulseTrain } from './pulseTrain.js';
import { LONGEST_FLASH } from './trainDraws.js';

/** What the search needs to know. */
export interface PulsedLightOptions {
  readonly exposureFraction: number;
  readonly exposureSd: number;
  readonly refreshHz: number | null;
  /** Possible scan slopes, capture periods a pixel row, ascending. */
  readonly slopesT: readonly number[];
}

/** The light of all screen regions together. */
export interface PulsedLight {
  /** One a trace; null where a region shows no beat of its own. */
  readonly beats: readonly (Beat | null)[];
  readonly source:
    | {
        readonly kind: 'gate';
        readonly gate: Gate;
        /** Whether the light comes on once a refresh; null where its rhythm may be a refresh or a dimmer's. */
        readonly strobed: boolean | null;
      }
    | {
        readonly kind: 'train';
        /** Of a tube's beam, or (slope 0) of a backlight that flashes once a refresh. */
        readonly train: PulseTrain;
        /** The other of the two, where the light does not tell them apart. */
        readonly rival: PulseTrain | null;
      }
    | { readonly kind: 'unknown' };
}

// Dimmers slower than this are seen as flicker by anybody; faster ones average out even in short exposures.
const SLOWEST_HZ = 40;
const FASTEST_HZ = 1500;
// Refresh rates of displays, for clips whose refresh is not stated.
const REFRESH_HZ = [45, 250] as const;
// Light that goes fully off and on at up to this rate is seen to flicker, and bothers (IEEE Std 1789-2015 asks for 90 Hz
// and more of modulated lamps); displays that do so all the same do it for sharp motion, once a refresh.
const SLOWEST_DIMMER_HZ = 100;
const SAME_RATE = 0.004;
// A train that leaves less than this of the light explains it.
const FINE_RESIDUAL = 1.5e-3;
// Trains that leave so little more than the best one may be the true one (simulated clips: the true one leaves less than
// the false one by a factor of 40 and more, but where the pulses are locked to the frames).
const ALIKE = 4;
// A train that is less likely than the other by a factor of 400 is not the one (twice the logarithm).
const UNLIKELY = 12;

/**
 * Looks at all screen regions for light that comes in pulses; null where it is steady.
 * @param remember may know the beats already.
 */
export function findPulsedLight(
  traces: readonly Trace[],
  options: PulsedLightOptions,
  remember: Remember = everyStepAnew,
): PulsedLight | null {
  const expected = options.refreshHz === null ? [] : [options.refreshHz];
  const windowFrames = refreshFrames(options.refreshHz, traces[0]!.periodS);
  const beats = traces.map((trace) =>
    remember('beat', [trace, options.refreshHz], () => findBeat(trace, expected)),
  );
  const found = lightOf(traces, beats, options);
  if (found?.source.kind !== 'unknown') return found;
  const equal = traces.map((trace, i) => {
    const beat = beats[i] ?? null;
    return beat && beatOfOnePicture(trace, beat, expected, windowFrames);
  });
  if (equal.every((beat, i) => beat === beats[i])) return found;
  const again = lightOf(traces, equal, options);
  return again?.source.kind === 'unknown' ? found : again;
}

/** What pulses explain the light, given the beats; null where there are none. */
function lightOf(
  traces: readonly Trace[],
  beats: readonly (Beat | null)[],
  options: PulsedLightOptions,
): PulsedLight | null {
  const strongest = beats.reduce<Beat | null>((a, b) => (b && (!a || b.depth > a.depth) ? b : a), null);
  if (!strongest) return null;
  const periodS = traces[0]!.periodS;
  const bands = beats.flatMap((beat) =>
    (beat?.bands ?? []).map(({ signal, openS }) => ({
      openT: Float64Array.from(beat!.stillFrames, (k) => openS[k]! / periodS),
      values: Float64Array.from(beat!.stillFrames, (k) => signal[k]!),
    })),
  );
  const trains = mayBeTrain(strongest, options.refreshHz, periodS)
    ? fitTrains(
        traces.flatMap((trace, i) => (beats[i] ? [pulsedBands(trace, beats[i])] : [])),
        periodS,
        options,
      )
    : [];
  const [train, rival = null] = trains;
  // A dimmer's rhythm need not be asked for where flashes explain all of the light.
  if (train && train.residual < FINE_RESIDUAL) return { beats, source: { kind: 'train', train, rival } };
  const gate = fitGate(bands, {
    perFrame: strongest.perFrame,
    exposure: options.exposureFraction,
    exposureSd: options.exposureSd,
    expected: options.refreshHz === null ? null : options.refreshHz * periodS,
    range: [SLOWEST_HZ * periodS, FASTEST_HZ * periodS],
    refreshes: [REFRESH_HZ[0] * periodS, REFRESH_HZ[1] * periodS],
  });
  if (train && fitsBetter(train, gate, options.refreshHz, periodS)) {
    return { beats, source: { kind: 'train', train, rival } };
  }
  if (!gate) return { beats, source: { kind: 'unknown' } };
  const strobed = isStrobed(gate, options.refreshHz, periodS);
  // Of a menu each change comes a few times only, which does not tell how its cells settle from flash to flash.
  if (beats.some((b) => b?.isOfPictures) && strobed !== false) return { beats, source: { kind: 'unknown' } };
  // Between short flashes no frame shows how the cells settle: a form fitted through them would make it up.
  if (strobed === true && gate.duty < LONGEST_FLASH) {
    const shutter = { exposure: options.exposureFraction, exposureSd: options.exposureSd };
    return { beats, source: { kind: 'train', train: flashesOf(gate, shutter), rival: null } };
  }
  return { beats, source: { kind: 'gate', gate, strobed } };
}

/** Camera frames of about one refresh, of 60 Hz where it is not known. */
export function refreshFrames(refreshHz: number | null, periodS: number): number {
  return Math.max(2, Math.round(1 / ((refreshHz ?? UNSTATED_REFRESH_HZ) * periodS)));
}

/** Trains of a beam and of a backlight's flashes; the one that explains the light first, the other where it does as well. */
function fitTrains(
  regions: readonly PulsedBands[],
  periodS: number,
  { exposureFraction, exposureSd, slopesT, refreshHz }: PulsedLightOptions,
): PulseTrain[] {
  const trainOf = (slopes: readonly number[]) =>
    fitPulseTrain(regions, {
      periodS,
      exposure: exposureFraction,
      exposureSd,
      slopesT: slopes,
      statedHz: refreshHz,
    });
  const flash = trainOf([0]);
  if (flash && flash.residual < flash.tolerance && !flash.isLocked) return [flash];
  const beam = trainOf(slopesT.filter((s) => s !== 0));
  const found = [flash, beam].filter((t) => t !== null);
  found.sort((a, b) => a.residual - b.residual);
  const [best, other] = found;
  if (best && other && other.residual > ALIKE * best.residual + other.tolerance) return [best];
  // Locked to the frames both may explain the light, yet one of them only with a picture as no screen shows it.
  if (!best?.isLocked || !other?.isLocked) return found;
  return found.filter((t) => t.misfit < Math.min(best.misfit, other.misfit) + UNLIKELY);
}

/** A train at the refresh is preferred to a gate of another rhythm that happens to beat alike. */
function fitsBetter(
  train: PulseTrain,
  gate: Gate | null,
  refreshHz: number | null,
  periodS: number,
): boolean {
  if (!gate || train.residual < gate.residual) return true;
  // Locked to the frames, the light of a few phases is explained by dimmers of several rates as well.
  const isLikely = refreshHz === null ? train.isLocked : !isStrobed(gate, refreshHz, periodS);
  return isLikely && train.residual < 2 * gate.residual + 0.003;
}

/** Null where the rhythm alone does not tell: a display of that refresh, or a dimmer. */
function isStrobed(gate: Gate, refreshHz: number | null, periodS: number): boolean | null {
  const hz = 1 / (gate.periodT * periodS);
  if (refreshHz !== null) return Math.abs(hz / refreshHz - 1) < SAME_RATE;
  if (gate.mayBeDimmer) return null;
  if (hz < REFRESH_HZ[0] || hz > REFRESH_HZ[1]) return false;
  return hz < SLOWEST_DIMMER_HZ ? true : null;
}

/** A tube or a strobed backlight shines once a refresh and is dark in between. */
function mayBeTrain(beat: Beat, refreshHz: number | null, periodS: number): boolean {
  if (refreshHz === null) return beat.depth > 0.5;
  const cycles = refreshHz * periodS;
  const off = cycles - Math.round(cycles);
  return Math.abs(Math.abs(off) - beat.perFrame) < SAME_RATE * cycles + 0.002;
}

function pulsedBands(trace: Trace, beat: Beat): PulsedBands {
  return {
    parts: beat.bands,
    topPx: trace.region.y,
    heightPx: trace.region.height,
    stillFrames: beat.stillFrames,
  };
}
