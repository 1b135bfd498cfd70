/** A small part of `npm run accuracy` for CI: held-out scenes against the floors of the issue. Figures are printed. */
import { describe, expect, it } from 'vitest';
import { type ClipError, heldOutScene, measureScene } from './heldOutScenes.js';
import { redrawWaits } from './redrawnWaits.js';

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
    // The waits of six clips alone would leave the ratio unknown to a third.
    const sets = clips.flatMap((c) => redrawWaits(c, 20, c.scene.seed));
    const model = rms(sets.map((s) => s.modelMs));
    const plain = rms(sets.map((s) => s.meanMs));
    console.log(
      `fixed delay, waits redrawn: RMS ${model.toFixed(3)} ms against ${plain.toFixed(3)} ms by the mean`,
    );
    expect(sets).toHaveLength(120);
    expect(model).toBeLessThan(0.5 * plain);
    for (const c of clips) expect(c.record.summary.screen!.waitModel!.lag).toBe('fixed');
  });

  // No held-out seeds: clips whose errors were looked at, kept so that they stay mended.
  const SEEN: Parameters<typeof heldOutScene>[1] = {
    exposureFraction: [0.1, 1],
    captureRateHz: [120, 240, 240, 480, 960],
    display: ['panel', 'oled', 'tube', 'strobed', 'pwm'],
    content: ['flash', 'toggle', 'patch', 'sprite', 'darken'],
    refreshHz: [50, 59.94, 60, 60.0988, 75, 120, 144],
    toneCurve: ['bt709', 'bt709', 'phone'],
    presses: 10,
  };
  const seen = async (seeds: readonly number[], options = SEEN) => {
    const clips: ClipError[] = [];
    for (const seed of seeds) clips.push(...(await series(seed, 1, options)));
    return clips;
  };

  it('a phone with a steeper tone curve than it says: most intervals hold the truth', async () => {
    const clips = await seen([31010, 31026, 31046, 31083, 31008, 31039, 31030, 31058]);
    for (const c of clips) expect(c.scene.camera.toneCurve).toBe('phone');
    const presses = clips.flatMap((c) => c.presses);
    expect(presses.filter((p) => p.covered).length / presses.length).toBeGreaterThan(0.8);
  });

  it('backlights dimmed by pulses near a multiple of the capture rate: within 0.3 of a camera frame, and covered', async () => {
    const clips = await seen([31051, 31063]);
    expect(rms(frames(clips))).toBeLessThan(0.3);
    expect(clips.reduce((s, c) => s + c.invented, 0)).toBe(0);
    // 31051 clips its screen: its first change is seen in clipped frames only with some readouts (0.67 and 0.74 of a frame, not
    // 0.6), and is then said to be unseen.
    expect(clips[0]!.missed).toBeLessThanOrEqual(1);
    expect(clips[1]!.missed).toBe(0);
    // 31063 is locked to the frames: its response's form is known from one phase only, and its intervals say so.
    expect(clips.flatMap((c) => c.presses).filter((p) => p.covered).length).toBeGreaterThanOrEqual(18);
  });

  // Their light goes round once in 35 to 230 frames: its swings were once taken for answers, up to 130 frames off.
  it('backlights dimmed by pulses that nearly keep pace with the frames: within 0.2 of a camera frame, none lost', async () => {
    const clips = await seen([20026, 20691, 21743, 24385]);
    expect(rms(frames(clips))).toBeLessThan(0.2);
    expect(clips.reduce((s, c) => s + c.missed + c.invented, 0)).toBe(0);
  });

  it('a tube that fills little of the picture, locked to the frames: within a fifth of a camera frame', async () => {
    expect(rms(frames(await seen([7026], { ...SEEN, display: ['tube'] })))).toBeLessThan(0.2);
  });

  // Answers that were 4 to 43 camera frames off, those of 25231 without a flag. Of the flashes of 281046 three or four pulses
  // are caught each, which were fitted as light that is held, and the other way round.
  it('clips that hardly show an answer say so, and measure none that is far off', async () => {
    for (const clip of await seen([25022, 151060, 25231, 281046])) {
      expect(clip.presses).toEqual([]);
      expect(clip.record.fitness.class).toBe('unfit');
      expect(clip.record.presses.some((p) => p.status === 'ambiguous' && p.reason)).toBe(true);
    }
  });

  // In step with the frames, each flash is seen in the same slice: one that the change begins in shows a fiftieth of it there.
  it('flashes that are seen in one slice only: none is off by a flash, unsaid', async () => {
    for (const clip of await seen([171118])) {
      for (const p of clip.presses) expect(p.covered || p.flagged).toBe(true);
    }
  });

  it('of five phases of the flashes, three slices of them: none is lost', async () => {
    const clips = await seen([25356]);
    expect(clips[0]!.missed).toBe(0);
    expect(rms(frames(clips))).toBeLessThan(0.3);
  });

  it('a dimmed panel of which a tenth of the cells is left, most of them in its upper rows: within a tenth of a camera frame', async () => {
    const clips = await seen([25054]);
    expect(clips[0]!.record.fitness.evidence!.screen!.clippedShare).toBeGreaterThan(0.8);
    expect(rms(frames(clips))).toBeLessThan(0.1);
  });

  it('a tube whose every fifth pulse meets the frames alike: what is left of that phase answers no press', async () => {
    const clips = await seen([18417]);
    expect(clips.reduce((s, c) => s + c.missed + c.invented, 0)).toBe(0);
    expect(rms(frames(clips))).toBeLessThan(0.15);
  });
});
