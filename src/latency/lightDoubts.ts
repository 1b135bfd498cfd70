/** What a camera's own curve of light, and its ceiling, may do to the time of an edge. */
import type { LatencyConditions } from './latencies.js';

/**
 * A phone's tone curve is only roughly the tagged one: standard shift of a latency, camera frames. The LED's edge is
 * instant and the screen's mostly is not, so that they do not make good for each other: 0.09 of a frame where the curve
 * starts twice as steep as tagged, in a third of clips, next to none in the others (83 simulated clips of panels and OLEDs).
 */
const TONE_CURVE_T = 0.05;
/**
 * Pulses hardly suffer from it, so that the LED's edge is not made good for by the screen's: where a frame shows it partly
 * lit, this share of the exposure, which makes 0.05 of a frame over all edges and exposures.
 */
const TONE_CURVE_OF_LED = 0.1;
/** Where the LED shows the curve: what it leaves nevertheless (judgement), and what a unit of bend is worth (the same clips). */
export const TONE_LEFT_T = 0.012;
const TONE_PER_BEND_T = 0.09;
// What clips is brighter than it reads, so that a partly lit frame reads as lit for longer: this standard share of the
// exposure for a screen of up to twice the camera's white, and for an LED of any brightness (simulated: edges 0.05 to 0.17
// of a frame early for screens of 1.3 to 2 times white, up to the whole exposure for an LED).
const CLIPPED_SCREEN = 0.2;
const CLIPPED_LED = 0.5;
// Pulses that clip hide when in an exposure they came as well (simulated: 0.8 to 2.3 frames off).
const CLIPPED_PULSES_T = 0.8;

/** An edge's place within the exposure is uniform, so that its time goes with the exposure by -0.5 to 0.5 of it. */
const EDGE_PER_EXPOSURE = 1 / Math.sqrt(12);

/** How a screen's light was timed; `OnsetSet` is one. */
export interface TimedLight {
  readonly light: 'held' | 'pulsed';
  readonly shapes: { readonly rise: { readonly tauT: number; readonly sweepT: number } };
  /** There where pulses told of the shutter. */
  readonly shutter?: object;
}

/** What is known of the camera's tone curve. */
export interface KnownTone {
  /** Standard uncertainty of its bend, see `straightLight`. */
  readonly sd: number;
}

/** Whether a screen's light came in pulses that the camera could tell. */
export function isPulsed({ light, shutter }: TimedLight): boolean {
  return light === 'pulsed' || shutter !== undefined;
}

/** Standard shifts of a latency by light that does not read as it is, camera frames. */
export function lightDoubts(
  led: { readonly saturated: boolean },
  screen: { readonly saturated: boolean },
  timed: TimedLight,
  exposureFraction: number,
  tone: KnownTone | null,
): Pick<LatencyConditions, 'toneCurveT' | 'toneOfLedAlone' | 'perExposure' | 'clippedT'> {
  const isHeld = timed.light === 'held';
  const clippedScreenT = isPulsed(timed) ? CLIPPED_PULSES_T : CLIPPED_SCREEN * exposureFraction;
  const unknownT = isHeld ? TONE_CURVE_T : TONE_CURVE_OF_LED * exposureFraction;
  return {
    toneCurveT: tone ? Math.min(unknownT, Math.hypot(TONE_LEFT_T, TONE_PER_BEND_T * tone.sd)) : unknownT,
    toneOfLedAlone: !isHeld,
    perExposure: EDGE_PER_EXPOSURE * Math.hypot(1, screenPerExposure(timed, exposureFraction)),
    clippedT: Math.hypot(
      led.saturated ? CLIPPED_LED * exposureFraction : 0,
      screen.saturated ? clippedScreenT : 0,
    ),
  };
}

/**
 * How far a screen's edge goes with the exposure as an instant one does, 0..1: a pulse does not, and a change that takes
 * longer than an exposure is placed by many frames.
 */
function screenPerExposure({ light, shapes: { rise } }: TimedLight, exposureFraction: number): number {
  if (light === 'pulsed') return 0;
  const lengthT = rise.tauT + Math.abs(rise.sweepT);
  return exposureFraction / (exposureFraction + lengthT);
}
