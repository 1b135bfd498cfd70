/** A small part of `npm run accuracy` for CI: held-out scenes against the floors of the issue. Figures are printed. */
import { describe, expect, it } from 'vitest';
import { type ClipError, heldOutScene, measureScene } from './heldOutScenes.js';

const rms = (v: readonly number[]) => Math.sqrt(v.reduce((s, x) => s + x * x, 0) / v.length);
const frames = (clips: readonly ClipError[]) =>
  clips.flatMap((c) => c.presses.map((p) => p.errorMs / c.periodMs));

async function series(seed: number, n: number, options: Parameters<typeof heldOutScene>[1]) {
  const clips: ClipError[] = [];
  for (let i = 0; i < n; i++) {
    const told = { readout: i % 3 !== 0, refresh: true, exposure: false };
    clips.push(await measureScene(heldOutScene(seed + i, options), told));
  }
  return clips;
}

describe('held-out scenes', () => {
  it('clean flash, exposure fraction 0.9 or more: RMS error of single latencies at most 0.12 frame', async () => {
    const clips = await series(31_000, 12, { exposureFraction: [0.9, 1], presses: 10 });
    const errors = frames(clips);
    const error = rms(errors);
    const covered = clips.flatMap((c) => c.presses).filter((p) => p.covered).length / errors.length;
    console.log(
      `clean flash: ${errors.length} presses, RMS ${error.toFixed(4)} frame, intervals hold ${covered.toFixed(3)}`,
    );
    expect(clips.reduce((s, c) => s + c.missed + c.invented, 0)).toBe(0);
    expect(error).toBeLessThan(0.12);
    // Presses of one clip share its readout and form, so that twelve clips only bound the coverage roughly.
    expect(covered).toBeGreaterThan(0.8);
  });

  it('tube and strobed display, long exposure: at most 0.3 frame', async () => {
    const clips = await series(32_000, 8, {
      exposureFraction: [0.9, 1],
      presses: 8,
      display: ['tube', 'strobed'],
      refreshHz: [59.94, 60],
    });
    const error = rms(frames(clips));
    console.log(`pulsed displays: RMS ${error.toFixed(4)} frame`);
    expect(error).toBeLessThan(0.3);
  });

  it('fixed delay at 50 presses: error at most half of the mean-based estimate', async () => {
    const clips = await series(33_000, 6, { presses: 50, refreshHz: [60] });
    const model = clips.map((c) => c.record.summary.screen!.waitModel!.fixedDelayMs - c.trueFixedDelayMs);
    const plain = clips.map((c) => c.record.summary.screen!.meanMs - 500 / 60 - c.trueFixedDelayMs);
    console.log(
      `fixed delay: RMS ${rms(model).toFixed(3)} ms against ${rms(plain).toFixed(3)} ms by the mean`,
    );
    expect(rms(model)).toBeLessThan(0.5 * rms(plain));
    for (const c of clips) expect(c.record.summary.screen!.waitModel!.lag).toBe('fixed');
  });
});
