/** Changes of a picture against the rhythm of the light behind it, on posteriors made here. */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { latticeOf, onLattice, type TimedEdge } from '../../src/onset/gateLattice.js';

const PERIOD_T = 4.003;

/** An edge at `atT` whose posterior is flat `before` and `after` that time. */
function edgeAt(atT: number, before: number, after: number, sign: 1 | -1 = 1): TimedEdge {
  const steps = 200;
  const posterior = {
    meanT: 0,
    sdT: 1,
    excessKurtosis: 0,
    intervalT: [-before, after] as const,
    logEvidence: 0,
    before: 0,
    after: 1,
    mapT: 0,
    grid: { lowT: -before, stepT: (before + after) / steps, weights: new Float64Array(steps + 1).fill(1) },
  };
  return { originT: atT, posterior, sign };
}

describe('changes against the rhythm of the light', () => {
  const random = seededRandom(5);
  const lattice = Array.from({ length: 12 }, (_, i) => 20 + 37 * i * PERIOD_T);

  it('lie on a lattice where the picture changes once a refresh and is lit for half of it', () => {
    // Dark for half of a refresh: each change may have come at any time in it.
    const edges = lattice.map((t, i) => edgeAt(t, 1.2, 0.8, i % 2 ? 1 : -1));
    expect(latticeOf(edges, PERIOD_T).odds).toBeGreaterThan(4);
  });

  it('do not where a dimmer knows nothing of them', () => {
    const edges = Array.from({ length: 12 }, (_, i) => {
      const t = random.uniform(0, 2000);
      // What falls into the dark stays unsure, what falls into the light is known sharply.
      return i % 2 ? edgeAt(t, 1.2, 0.8) : edgeAt(t, 0.05, 0.05);
    });
    expect(latticeOf(edges, PERIOD_T).odds).toBeLessThan(-3);
  });

  it('tell nothing where there are two of them only', () => {
    expect(latticeOf([edgeAt(3, 1, 1), edgeAt(9, 1, 1)], PERIOD_T).odds).toBe(0);
  });

  it('settle one among them that may have come with either of two flashes', () => {
    const sharp = lattice.map((t) => edgeAt(t, 0.1, 0.1));
    const open = edgeAt(lattice[5]!, 2.4, 0.4);
    const pulled = onLattice(open, latticeOf([...sharp, open], PERIOD_T));
    const { lowT, stepT, weights } = pulled.posterior.grid;
    const total = weights.reduce((a, b) => a + b, 0);
    const near = weights.filter((_, i) => Math.abs(lowT + i * stepT) < 0.5).reduce((a, b) => a + b, 0);
    expect(near / total).toBeGreaterThan(0.9);
    // One that surely lies elsewhere stays there.
    const stray = edgeAt(lattice[5]! + 2, 0.1, 0.1);
    expect(onLattice(stray, latticeOf(sharp, PERIOD_T)).posterior.mapT).toBeCloseTo(0, 0);
  });
});
