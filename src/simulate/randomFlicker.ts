/** Draws clips of a flickering light with random settings: the raw material of the calibration's accuracy test. */
import type { FlickerScene } from './flickerSource.js';
import { seededStream } from './random.js';

const FLICKER_STREAM = 47;

/**
 * A random clip of an LED of 1 to 2 kHz (or of `lightHz`) filmed for 4 to 10 s; the same seed gives the same clip. The
 * camera runs up to 0.1 % beside its nominal rate. `change` has the last word.
 */
export function randomFlicker(
  seed: number,
  lightHz?: number,
  change: (scene: FlickerScene) => FlickerScene = (scene) => scene,
): FlickerScene {
  const draw = seededStream(seed, FLICKER_STREAM);
  const nominalHz = draw.pick([120, 240, 240, 480]);
  const captureRateHz = nominalHz * (1 + draw.between(-1e-3, 1e-3));
  const rateHz = lightHz ?? draw.pick([1000, 1000, 1310, 1700, 2000]);
  // An exposure near a whole number of periods would hide the light; who films for calibration shortens it.
  let exposureFraction = 1;
  let periods = 0;
  do {
    exposureFraction = draw.between(0.05, 0.7);
    periods = (exposureFraction * rateHz) / captureRateHz;
  } while (periods > 0.8 && Math.abs(periods - Math.round(periods)) < 0.1);
  const turned = draw.next() < 0.3;
  return change({
    name: `flicker-${seed}`,
    seed,
    picture: {
      widthPx: turned ? 180 : 320,
      heightPx: turned ? 320 : 180,
      rotationDeg: turned ? draw.pick([90, 270] as const) : draw.pick([0, 180] as const),
    },
    camera: {
      captureRateHz,
      frames: Math.round(nominalHz * draw.between(4, 10)),
      exposureFraction,
      readoutFraction: draw.between(0.2, 0.95),
      gain: 1,
      readNoise: draw.between(0.005, 0.03),
      shotNoise: draw.between(0.005, 0.03),
      toneCurve: draw.pick(['bt709', 'bt709', 'phone', 'srgb'] as const),
      bitDepth: 8,
      range: 'limited',
      drift: draw.next() < 0.3 ? { depth: 0.1, periodS: draw.between(1, 5) } : null,
      droppedFrames: draw.next() < 0.3 ? [draw.whole(50, 150), draw.whole(151, 400)] : [],
      doubledFrames: [],
      storedRateHz: null,
      captureTag: false,
    },
    light: {
      rateHz,
      waveform: draw.pick(['square', 'sine'] as const),
      duty: draw.between(0.3, 0.6),
      phase: draw.next(),
      depth: draw.between(0.4, 1),
      meanLight: draw.between(0.15, 0.4),
    },
    ambientLight: draw.between(0, 0.2),
    vignette: draw.between(0, 0.6),
  });
}
