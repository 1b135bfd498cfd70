/** The plan of an annotated film against the measurement itself: one clock, one trace, and the press that was asked for. */
import { beforeAll, describe, expect, it } from 'vitest';
import { resolveCaptureClock } from '../../src/clip/captureClock.js';
import { type Measurement, measureSamples } from '../../src/measure.js';
import { type AnnotateRequest, type PictureReader, planAnnotation } from '../../src/publish/annotateClip.js';
import { clipTrace } from '../../src/publish/clipTraces.js';
import { type FilmedScene, filmScene } from '../filmedScene.js';

let film: FilmedScene;
let known: Measurement;
let unknown: Measurement;

beforeAll(async () => {
  film = await filmScene(911, { content: ['flash'], readoutFraction: [0.35, 0.35] });
  const measure = (readoutFraction: number | null) =>
    measureSamples(film.samples, film.times, film.facts, {
      ...film.recipe,
      capture: { ...film.recipe.capture, readoutFraction },
    });
  known = measure(0.35);
  unknown = measure(null);
}, 60_000);

/** Grey pictures: what is looked at here is the plan. */
const grey: PictureReader = async function* (runs, width, height) {
  for (const [first, last] of runs)
    for (let k = first; k <= last; k++) yield new Uint8Array(3 * width * height).fill(90);
};

const plan = (measurement: Measurement, request: Partial<AnnotateRequest> = {}) =>
  planAnnotation(film.source, measurement.record, film.samples, film.times, grey, {
    press: 'all',
    slow: 8,
    keepSpeed: false,
    ...request,
  });

describe('clock of the film', () => {
  it.each(['stated', 'unknown'] as const)(
    'readout %s: the middle of each exposure is that of the evidence',
    (which) => {
      const { record, evidence } = which === 'stated' ? known : unknown;
      expect(record.timing.readoutFraction === null).toBe(which === 'unknown');
      const clock = resolveCaptureClock({ facts: film.facts, ptsTicks: film.times.ptsTicks });
      if (!clock.known) throw new Error('no clock');
      for (const strip of evidence.presses.get(2)!) {
        const { middleS } = clipTrace(film.samples, strip.region, clock, record);
        for (const { capturedAtS } of strip.frames) {
          const nearest = Math.min(...clock.capturedAtS.map((t) => Math.abs(t + middleS - capturedAtS)));
          expect(nearest).toBeLessThan(1e-9);
        }
      }
    },
  );
});

describe('plan', () => {
  it('each counter and trace value is that of the record and its evidence', async () => {
    const { scenes, words } = await plan(known);
    expect(scenes).toHaveLength(known.record.presses.length);
    for (const [i, { press, frames }] of scenes.entries()) {
      const strip = known.evidence.presses.get(press.index)!.find((s) => s.region === 'top')!;
      const trace = words[i]!.traces[1];
      expect(trace.timesMs.map((t, k) => t - frames[k]!.counterMs).every((d) => Math.abs(d) < 1e-6)).toBe(
        true,
      );
      let compared = 0;
      for (const { capturedAtS, share } of strip.frames) {
        const ms = (capturedAtS - press.ledOnsetS) * 1000;
        const k = trace.timesMs.findIndex((t) => Math.abs(t - ms) < 0.01);
        if (k < 0) continue;
        compared++;
        // Two ways to the same share: other plateaus, other weights.
        expect(Math.abs(trace.shares[k]! - share)).toBeLessThan(0.12);
      }
      expect(compared).toBeGreaterThan(10);
    }
  });
  it('the typical press is the one nearest the median', async () => {
    const { scenes } = await plan(known, { press: 'typical' });
    const { medianMs } = known.record.summary.top!;
    const distances = known.record.presses.map((p) => Math.abs(p.responses[0]!.latencyMs! - medianMs));
    expect(scenes.map((s) => s.press.index)).toEqual([distances.indexOf(Math.min(...distances)) + 1]);
  });
  it('refuses a press, a region and a record that are not of this clip', async () => {
    await expect(plan(known, { press: 99 })).rejects.toThrow(/no press 99/);
    await expect(plan(known, { region: 'side' })).rejects.toThrow(/"side"/);
    const other = { ...known, record: { ...known.record, clip: { ...known.record.clip, frames: 7 } } };
    await expect(plan(other)).rejects.toThrow(/measure the clip again/);
  });
});
