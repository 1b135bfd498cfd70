/**
 * The least error that any unbiased estimator of a latency can have in a clip (Cramer-Rao), from the clip's own noise.
 * S. Kay, Fundamentals of Statistical Signal Processing I, ch. 3; check-values 1.2. The times of an edge that fall behind
 * the closed shutter hold no information: there the spread of the closed time stands.
 */
import type { ClipError } from './heldOutScenes.js';

const PHASES = 200;
/** Frames after the change that still see it settle. */
const FRAMES = 60;

/** Phase-averaged bound of one edge, capture periods; `tauT` 0 is an instant step. */
export function edgeBoundT(signalToNoise: number, exposure: number, tauT: number): number {
  const settled = (t: number) => (t <= 0 ? 0 : tauT === 0 ? 1 : 1 - Math.exp(-t / tauT));
  const closed = (1 - exposure) ** 2 / 12;
  let square = 0;
  for (let i = 0; i < PHASES; i++) {
    const onsetT = (i + 0.5) / PHASES;
    let information = 0;
    for (let k = 0; k < FRAMES; k++) {
      // Light of a frame changes with the onset as the response moves in at one end of the exposure and out at the other.
      const slope = (settled(k + exposure - onsetT) - settled(k - onsetT)) / exposure;
      information += (slope * signalToNoise) ** 2;
    }
    const bound = information > 0 ? 1 / information : Number.POSITIVE_INFINITY;
    square += (closed > 0 ? Math.min(bound, closed + 1 / signalToNoise ** 2) : bound) / PHASES;
  }
  return Math.sqrt(square);
}

/** The bound of a clip's latencies, capture periods; null where its contrasts are not known. */
export function latencyBoundT({ record, scene, periodMs }: ClipError): number | null {
  const { led, screen } = record.fitness.evidence ?? {};
  if (!led?.contrast || !screen?.contrast) return null;
  const { display } = scene.screen;
  const { exposureFraction } = scene.camera;
  const tauT = 'riseTauMs' in display ? display.riseTauMs / periodMs : 0;
  return Math.hypot(
    edgeBoundT(led.contrast, exposureFraction, 0),
    edgeBoundT(screen.contrast, exposureFraction, tauT),
  );
}
