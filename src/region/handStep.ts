/** One step of following a shaken picture: how far it went, from how its still parts misfit. */
import { invertSymmetric, timesVector } from '../numeric/solveSymmetric.js';
import type { Anchors } from './handAnchors.js';

/** Weighted least squares of translation x and y, turn, scale and gain; null where the picture has no hold. */
export function solveStep(
  a: Anchors,
  misfit: Float32Array,
  reach: number,
  cx: number,
  cy: number,
): ArrayLike<number> | null {
  const size = 5;
  const normal = new Float64Array(size * size); // the lower triangle is what is read
  const right = new Float64Array(size);
  for (let i = 0; i < misfit.length; i++) {
    const weight = tukey(misfit[i]! / reach);
    if (weight === 0) continue;
    const gx = a.gradX[i]!;
    const gy = a.gradY[i]!;
    const dx = a.x[i]! - cx;
    const dy = a.y[i]! - cy;
    const turn = gy * dx - gx * dy;
    const zoom = gx * dx + gy * dy;
    const gain = a.value[i]!;
    const wx = weight * gx;
    const wy = weight * gy;
    const wTurn = weight * turn;
    const wZoom = weight * zoom;
    const wGain = weight * gain;
    normal[0]! += wx * gx;
    normal[5]! += wy * gx;
    normal[6]! += wy * gy;
    normal[10]! += wTurn * gx;
    normal[11]! += wTurn * gy;
    normal[12]! += wTurn * turn;
    normal[15]! += wZoom * gx;
    normal[16]! += wZoom * gy;
    normal[17]! += wZoom * turn;
    normal[18]! += wZoom * zoom;
    normal[20]! += wGain * gx;
    normal[21]! += wGain * gy;
    normal[22]! += wGain * turn;
    normal[23]! += wGain * zoom;
    normal[24]! += wGain * gain;
    right[0]! += wx * misfit[i]!;
    right[1]! += wy * misfit[i]!;
    right[2]! += wTurn * misfit[i]!;
    right[3]! += wZoom * misfit[i]!;
    right[4]! += wGain * misfit[i]!;
  }
  const inverse = invertSymmetric(normal, size);
  return inverse && timesVector(inverse, right);
}

/** The same of the gain alone, where nothing moves. */
export function gainStep(a: Anchors, misfit: Float32Array, reach: number): ArrayLike<number> | null {
  let vv = 0;
  let vm = 0;
  for (let i = 0; i < misfit.length; i++) {
    const w = tukey(misfit[i]! / reach) * a.value[i]!;
    vv += w * a.value[i]!;
    vm += w * misfit[i]!;
  }
  return vv > 0 ? [0, 0, 0, 0, vm / vv] : null;
}

/** Tukey's biweight: 1 at no misfit, 0 from 1 on. */
function tukey(u: number): number {
  return u >= 1 || u <= -1 ? 0 : (1 - u * u) ** 2;
}
