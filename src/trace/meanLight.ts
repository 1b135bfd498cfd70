/** How bright a region is in each frame. */
import type { RegionSamples } from '../samples/samples.js';

/** Mean light of a region's cells, times `LIGHT_SCALE`; one value a frame. */
export function meanLightOf({ light, columns, rows }: RegionSamples, frames: number): Float64Array {
  const cells = columns * rows;
  return Float64Array.from({ length: frames }, (_, k) => {
    let sum = 0;
    for (let c = 0; c < cells; c++) sum += light[k * cells + c]!;
    return sum / cells;
  });
}
