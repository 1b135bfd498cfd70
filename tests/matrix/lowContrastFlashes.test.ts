/**
 * Pictures that differ little on displays that shine in pulses: clips of the matrix of which most answers were a flash or
 * more off, without a word. What flashes do not show is not to be told; where they show it, it is.
 */
import { describe, expect, it } from 'vitest';
import { simulateSource } from '../../src/simulate/renderSource.js';
import { sceneRegions } from '../../src/simulate/sceneRegions.js';
import { drawClip } from './drawClip.js';
import { outcomeOf } from './judgeClip.js';

async function outcomeOfSeed(seed: number) {
  const clip = drawClip(seed);
  const { led, screen } = sceneRegions(clip.scene);
  return outcomeOf(clip, simulateSource(clip.scene), [
    { name: 'led', role: 'led', ...led },
    { name: 'screen', role: 'screen', ...screen },
  ]);
}

describe('pictures that differ little on a pulsed display', () => {
  it.each([
    [44291, 'half-caught flashes that the lattice explains badly'],
    [46452, 'two of five flashes behind the closed shutter'],
    [45145, 'a tube in step with the frames, its refresh not told'],
  ])('seed %d (%s): no wrong number is reported as if it were sound', async (seed) => {
    const outcome = await outcomeOfSeed(seed);
    if (outcome.fitness !== 'unfit' && outcome.fitness !== 'refused') expect(outcome.wrongUnflagged).toBe(0);
    expect(outcome.inventedUnflagged).toBe(0);
  });

  it('seed 43457: flashes that show the difference are still counted, each press of them but one', async () => {
    const outcome = await outcomeOfSeed(43457);
    // One press was answered while six flashes in a row fell behind the closed shutter.
    expect(outcome.found).toBeGreaterThanOrEqual(outcome.expected - 1);
    expect(outcome.expected).toBeGreaterThan(8);
    for (const errorT of outcome.errorsT) expect(Math.abs(errorT)).toBeLessThan(0.5);
  });
});
