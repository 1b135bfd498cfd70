/** The bound that the accuracy table measures itself by, against its closed forms (check-values 1.2 and 1.3). */
import { describe, expect, it } from 'vitest';
import { edgeBoundT } from './cramerRao.js';

describe('Cramer-Rao bound of an edge', () => {
  it.each([
    [1, 20, 0.05],
    [1, 50, 0.02],
  ])('instant step, exposure %d, SNR %d: e T / SNR', (exposure, snr, bound) => {
    expect(edgeBoundT(snr, exposure, 0)).toBeCloseTo(bound, 4);
  });

  it('half open, hardly any noise: T sqrt((1 - e)^3 / 12)', () => {
    expect(edgeBoundT(1e5, 0.5, 0)).toBeCloseTo(0.1021, 3);
  });

  it('slow edge, whatever the exposure: (sigma / A) sqrt(2 r T)', () => {
    for (const exposure of [0.3, 1])
      expect(edgeBoundT(100, exposure, 8) / (0.01 * Math.sqrt(16))).toBeCloseTo(1, 1);
  });
});
