/** Which kind of pulsed light a screen shows: a backlight behind a gate, a tube's beam, or something without a rule. */
import { everyStepAnew, type Remember } from '../remember.js';
import type { Trace } from '../trace/trace.js';
import { type Beat, findBeat } from './beat.js';
import { fitGate, type Gate } from './gate.js';
import type { PulsedBands } from './pulsedBands.js';
import { fitPulseTrain, type PulseTrain } from './pulseTrain.js';

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
    | { readonly kind: 'gate'; readonly gate: Gate; readonly strobed: boolean }
    | { readonly kind: 'tube'; readonly train: PulseTrain }
    | { readonly kind: 'unknown' };
}

// Dimmers slower than this are seen as flicker by anybody; faster ones average out even in short exposures.
const SLOWEST_HZ = 40;
const FASTEST_HZ = 1500;
// Refresh rates of displays, for clips whose refresh is not stated.
const REFRESH_HZ = [45, 250] as const;
const STROBE_DUTY = 0.4;
const SAME_RATE = 0.004;

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
  const beats = traces.map((trace) =>
    remember('beat', [trace, options.refreshHz], () => findBeat(trace, expected)),
  );
  const strongest = beats.reduce<Beat | null>((a, b) => (b && (!a || b.depth > a.depth) ? b : a), null);
  if (!strongest) return null;
  const periodS = traces[0]!.periodS;
  const bands = beats.flatMap((beat) =>
    (beat?.bands ?? []).map(({ signal, openS }) => ({
      openT: Float64Array.from(beat!.stillFrames, (k) => openS[k]! / periodS),
      values: Float64Array.from(beat!.stillFrames, (k) => signal[k]!),
    })),
  );
  const gate = fitGate(bands, {
    perFrame: strongest.perFrame,
    exposure: options.exposureFraction,
    exposureSd: options.exposureSd,
    expected: options.refreshHz === null ? null : options.refreshHz * periodS,
    range: [SLOWEST_HZ * periodS, FASTEST_HZ * periodS],
  });
  const train = mayBeTube(strongest, options.refreshHz, periodS)
    ? fitPulseTrain(
        traces.flatMap((trace, i) => (beats[i] ? [pulsedBands(trace, beats[i])] : [])),
        {
          periodS,
          exposure: options.exposureFraction,
          exposureSd: options.exposureSd,
          slopesT: options.slopesT,
          statedHz: options.refreshHz,
        },
      )
    : null;
  if (train && train.slopeT !== 0 && fitsBetter(train, gate, options.refreshHz, periodS)) {
    return { beats, source: { kind: 'tube', train } };
  }
  if (!gate) return { beats, source: { kind: 'unknown' } };
  return { beats, source: { kind: 'gate', gate, strobed: isStrobed(gate, options.refreshHz, periodS) } };
}

/** A train at the refresh is preferred to a gate of another rhythm that happens to beat alike. */
function fitsBetter(
  train: PulseTrain,
  gate: Gate | null,
  refreshHz: number | null,
  periodS: number,
): boolean {
  if (!gate || train.residual < gate.residual) return true;
  return (
    refreshHz !== null && !isStrobed(gate, refreshHz, periodS) && train.residual < 2 * gate.residual + 0.003
  );
}

function isStrobed(gate: Gate, refreshHz: number | null, periodS: number): boolean {
  const hz = 1 / (gate.periodT * periodS);
  if (refreshHz !== null) return Math.abs(hz / refreshHz - 1) < SAME_RATE;
  return hz > REFRESH_HZ[0] && hz < REFRESH_HZ[1] && gate.duty < STROBE_DUTY;
}

/** A tube flashes once a refresh and goes dark in between. */
function mayBeTube(beat: Beat, refreshHz: number | null, periodS: number): boolean {
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
