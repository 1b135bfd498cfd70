import { describe, expect, it } from 'vitest';
import { normalCdf } from '../../src/numeric/normal.js';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { blurredQuantiles, weightedQuantiles } from '../../src/stats/weightedPosterior.js';

/** The same search with every step asked of the exact distribution: the oracle, and many times slower. */
function bisected(values: readonly number[], weights: readonly number[], errorSd: number, p: number): number {
  const [plain] = weightedQuantiles({ values, weights }, [p]);
  const total = weights.reduce((sum, w) => sum + w, 0);
  let low = plain! - 8 * errorSd;
  let high = plain! + 8 * errorSd;
  for (let step = 0; step < 36; step += 1) {
    const middle = 0.5 * (low + high);
    let below = 0;
    for (const [i, v] of values.entries()) below += weights[i]! * normalCdf((middle - v) / errorSd);
    if (below < p * total) low = middle;
    else high = middle;
  }
  return 0.5 * (low + high);
}

describe('blurred quantiles', () => {
  const { uniform } = seededRandom(41);
  const samples: readonly (readonly [name: string, values: readonly number[]])[] = [
    ['one heap', Array.from({ length: 400 }, () => uniform(60, 61) + uniform(0, 1))],
    ['two heaps far apart', Array.from({ length: 300 }, (_, i) => (i % 2 ? 20 : 30) + uniform(0, 1))],
    ['one point', [5]],
    ['two points', [5, 5.001]],
  ];
  it.each(samples)('are to the last bit those of a search by the exact distribution: %s', (_, values) => {
    const weights = values.map(() => uniform(0.1, 2));
    for (const errorSd of [0.02, 0.4, 7]) {
      const probabilities = [0.025, 0.3, 0.5, 0.975];
      const found = blurredQuantiles({ values, weights }, errorSd, probabilities);
      expect(found).toEqual(probabilities.map((p) => bisected(values, weights, errorSd, p)));
    }
  });
});
