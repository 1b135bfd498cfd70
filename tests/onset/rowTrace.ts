/** A region of a few rows, one cell each, that all open at once: no more of a trace than a test of pulses needs. */
import type { Trace } from '../../src/trace/trace.js';

/**
 * The trace of some light.
 * @param light row after row of each frame, linear light 0..1.
 * @param noise standard deviation of a row's light from frame to frame.
 */
export function rowTrace(light: Float32Array, rows: number, periodS: number, noise: number): Trace {
  const frames = light.length / rows;
  return {
    region: { name: 'screen', role: 'screen', x: 0, y: 0, width: 8, height: rows },
    frames,
    cells: rows,
    light,
    noise: new Float32Array(rows).fill(noise),
    openS: Float64Array.from({ length: frames }, (_, k) => k * periodS),
    down: Float32Array.from({ length: rows }, (_, c) => (c + 0.5) / rows),
    tall: new Float32Array(rows).fill(1 / rows),
    openOffsetS: new Float32Array(rows),
    periodS,
    missingBefore: new Uint16Array(frames),
    clippedCells: 0,
    saturated: false,
  };
}
