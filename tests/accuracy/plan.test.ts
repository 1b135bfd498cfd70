/** The plan's predictions against clips that are really measured: simulated, in memory, held-out seeds. */
import { afterAll, expect, test } from 'vitest';
import { planFilming } from '../../src/latency/planFilming.js';
import { measureSamples } from '../../src/measure.js';
import { filmScene } from '../filmedScene.js';

const rows: string[] = [];
afterAll(() =>
  console.log(
    `plan against measured clips (means over clips)\nsetting                          width ms: plan  found    one latency ms: plan  found\n${rows.join('\n')}`,
  ),
);

const CLIPS = 6;

test.each([
  ['240 fps, exposure 0.95', 240, 0.95, 20, 9500],
  ['240 fps, exposure 0.5', 240, 0.5, 20, 9600],
  ['120 fps, exposure 0.9', 120, 0.9, 12, 9700],
] as const)('%s', async (name, captureRateHz, exposureFraction, presses, seed) => {
  const plan = planFilming({
    captureRateHz,
    exposureFraction,
    refreshHz: 60,
    presses,
    wantMs: null,
    marginMs: 1,
  });
  let width = 0;
  let uncertainty = 0;
  for (let k = 0; k < CLIPS; k++) {
    const filmed = await filmScene(seed + k, {
      captureRateHz: [captureRateHz],
      exposureFraction: [exposureFraction, exposureFraction],
      display: ['oled'],
      content: ['flash'],
      refreshHz: [60],
      presses,
      jitter: [{ kind: 'none' }],
      widthPx: 160,
      heightPx: 90,
    });
    const { record } = measureSamples(filmed.samples, filmed.times, filmed.facts, filmed.recipe);
    const [low, high] = record.summary.top!.waitModel!.intervalMs;
    width += (high - low) / CLIPS;
    const each = record.presses.flatMap((p) => p.responses.flatMap((r) => r.uncertaintyMs ?? []));
    const square = each.reduce((sum, u) => sum + u * u, 0) / each.length;
    uncertainty += Math.sqrt(square) / CLIPS;
  }
  rows.push(
    `${name.padEnd(32)} ${plan.widthMs.toFixed(2).padStart(13)} ${width.toFixed(2).padStart(6)} ${plan.uncertaintyMs.toFixed(3).padStart(22)} ${uncertainty.toFixed(3).padStart(6)}`,
  );
  // Six clips of 12 to 20 presses: the mean width itself scatters by some 10 %.
  expect(width / plan.widthMs).toBeGreaterThan(0.7);
  expect(width / plan.widthMs).toBeLessThan(1.4);
});
