import { expect, test } from 'vitest';
import { densityQuantiles, studentDensity } from '../../src/stats/gridDensity.js';
import { centreOf, randomEffects } from '../../src/stats/randomEffects.js';

// Eight schools: D. B. Rubin, J. Educ. Stat. 6 (1981) 377-400; half-Cauchy prior of the spread after A. Gelman,
// Bayesian Analysis 1 (2006) 515-534. Quantiles by plain quadrature: randomEffects.recipe.py.
const EFFECTS = [28, 8, -3, 7, -1, 1, 18, 12];
const ERRORS = [15, 10, 16, 11, 9, 11, 10, 18];

test.each([
  [25, [-1.745, 7.873, 17.765], [0.221, 4.784, 18.036]],
  [5, [-0.915, 7.789, 16.605], [0.125, 2.773, 12.064]],
] as const)('eight schools, prior median of the spread %i', (scale, centre, spread) => {
  const step = 0.5;
  const schools = EFFECTS.map((y, i) => studentDensity(y, ERRORS[i]!, Number.POSITIVE_INFINITY, step));
  const found = randomEffects([schools], scale);
  expect(found.degreesOfFreedom).toBe(7);
  const quantiles = densityQuantiles(centreOf(found, 0), [0.025, 0.5, 0.975]);
  // The spread is summed over 24 values, not integrated.
  const CENTRE_TOLERANCE = 0.03;
  for (const [i, q] of centre.entries()) expect(Math.abs(quantiles[i]! - q)).toBeLessThan(CENTRE_TOLERANCE);
  expect(Math.abs(found.spread!.sd / spread[1] - 1)).toBeLessThan(0.03);
  expect(Math.abs(found.spread!.interval[1] / spread[2] - 1)).toBeLessThan(0.08);
  // The lower end lies below the second value that is tried.
  expect(found.spread!.interval[0]).toBeLessThan(0.12 * scale);
});
