/** What a camera file says about another clip of the same camera. */
import { UsageError } from '../errors.js';
import type { CameraCalibration } from './camera.js';

/** The clip that is to be measured. */
export interface CameraUse {
  readonly file: string;
  readonly codedWidth: number;
  readonly codedHeight: number;
  readonly captureRateHz: number;
}

/** A rate this near the calibrated one is the same mode, relative. */
const SAME_RATE = 0.02;

/**
 * Readout of a clip as a share of its own capture period, with its standard uncertainty. The time of the readout
 * belongs to the sensor's mode, so it is the time that is carried over.
 * @throws UsageError where coded size or capture rate are not those of the calibration
 */
export function cameraReadout(
  camera: CameraCalibration,
  clip: CameraUse,
): { readonly fraction: number; readonly sd: number } {
  const { width, height } = camera.coded;
  if (clip.codedWidth !== width || clip.codedHeight !== height) {
    throw new UsageError(
      `the camera file was made with clips of ${width} x ${height} coded px, and ${clip.file} has ${clip.codedWidth} x ${clip.codedHeight}: calibrate in the same mode`,
    );
  }
  if (Math.abs(clip.captureRateHz / camera.captureRateHz - 1) > SAME_RATE) {
    throw new UsageError(
      `the camera file was made at ${camera.captureRateHz.toFixed(2)} frames a second, and ${clip.file} was filmed at ${clip.captureRateHz.toFixed(2)}: calibrate in the same mode`,
    );
  }
  const perMs = clip.captureRateHz / 1000;
  return { fraction: camera.readoutMs * perMs, sd: camera.readoutUncertaintyMs * perMs };
}
