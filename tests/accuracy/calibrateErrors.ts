/** How far a calibration is from the truth of a simulated clip of a flickering light. */
import { type Calibration, calibrateClip } from '../../src/calibrate/calibrateClip.js';
import { type FlickerScene, flickerSource } from '../../src/simulate/flickerSource.js';

/** Relative errors, and whether the 95 % intervals hold the truth. */
export interface CalibrateErrors {
  readonly readoutError: number;
  readonly rateError: number;
  readonly readoutHeld: boolean;
  readonly rateHeld: boolean;
}

/** Compares one calibration with its scene. */
export function calibrateErrors(found: Calibration, { camera }: FlickerScene): CalibrateErrors {
  const truthMs = (1000 * camera.readoutFraction) / camera.captureRateHz;
  const held = ([from, to]: readonly [number, number], truth: number) => truth >= from && truth <= to;
  return {
    readoutError: Math.abs(found.readoutMs.value / truthMs - 1),
    rateError: Math.abs(found.captureRateHz.value / camera.captureRateHz - 1),
    readoutHeld: held(found.readoutMs.interval, truthMs),
    rateHeld: held(found.captureRateHz.interval, camera.captureRateHz),
  };
}

/** Calibrates a scene without any codec; the light's own frequency is taken as exact. */
export function calibrateScene(scene: FlickerScene): Promise<Calibration> {
  return calibrateClip(flickerSource(scene), { lightHz: scene.light.rateHz, lightUncertaintyRel: 0 });
}
