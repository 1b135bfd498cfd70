/** A clip of the matrix in which the camera changes its exposure three frames before the LED goes out, once in twenty edges. */
import { expect, it } from 'vitest';
import { simulateSource } from '../../src/simulate/renderSource.js';
import { sceneRegions } from '../../src/simulate/sceneRegions.js';
import { drawClip } from './drawClip.js';
import { outcomeOf } from './judgeClip.js';

it('seed 60388: one spoilt edge does not make the LED a slow one (all latencies were two camera frames too long)', async () => {
  const clip = drawClip(60388);
  const { led, screen } = sceneRegions(clip.scene);
  const { found, errorsT } = await outcomeOf(clip, simulateSource(clip.scene), [
    { name: 'led', role: 'led', ...led },
    { name: 'screen', role: 'screen', ...screen },
  ]);
  expect(found).toBe(10);
  for (const errorT of errorsT) expect(Math.abs(errorT)).toBeLessThan(1);
});
