import { beforeAll, describe, expect, it } from 'vitest';
import { type Measurement, measureSamples } from '../src/measure.js';
import type { EvidenceStrip } from '../src/record/evidence.js';
import { type FilmedScene, filmScene } from './filmedScene.js';

/** A busy machine takes its time. */
const HOOK_TIMEOUT_MS = 60_000;

let film: FilmedScene;
let measured: Measurement;

beforeAll(async () => {
  film = await filmScene(911, { content: ['flash'], presses: 5 });
  measured = measureSamples(film.samples, film.times, film.facts, film.recipe);
}, HOOK_TIMEOUT_MS);

function strips(): { strip: EvidenceStrip; press: number; kind: 'led' | 'screen' }[] {
  return [...measured.evidence.presses].flatMap(([press, list]) =>
    list.map((strip, i) => ({ strip, press, kind: i === 0 ? ('led' as const) : ('screen' as const) })),
  );
}

/** Half a period: a frame's own middle may lie that far from the onset it contains. */
const halfFrameS = () => film.periodMs / 2000;

describe('evidence of presses', () => {
  it('has the LED’s strip first and one for each screen region, for every press', () => {
    expect([...measured.evidence.presses.keys()]).toEqual(measured.record.presses.map((p) => p.index));
    for (const list of measured.evidence.presses.values()) {
      expect(list.map((s) => s.region)).toEqual(['led', 'top']);
    }
  });

  it('shows frames before and after each onset, in order', () => {
    for (const { strip } of strips()) {
      const at = strip.frames.map((f) => f.capturedAtS);
      expect(at).toEqual([...at].sort((a, b) => a - b));
      expect(new Set(at).size).toBe(at.length);
      expect(at.filter((t) => t < strip.onsetS! - halfFrameS()).length).toBeGreaterThanOrEqual(3);
      expect(at.filter((t) => t > strip.onsetS! + halfFrameS()).length).toBeGreaterThanOrEqual(4);
    }
  });

  it('states the record’s own onsets', () => {
    for (const { strip, press, kind } of strips()) {
      const of = measured.record.presses.find((p) => p.index === press)!;
      const onsetS = kind === 'led' ? of.ledOnsetS : of.responses[0]!.onsetS!;
      // The record is rounded at 0.1 microseconds.
      expect(Math.abs(strip.onsetS! - onsetS)).toBeLessThan(1e-6);
      expect(strip.onsetIntervalS![0]).toBeLessThan(strip.onsetS!);
      expect(strip.onsetIntervalS![1]).toBeGreaterThan(strip.onsetS!);
    }
  });

  it('shares go from about 0 to about 1', () => {
    for (const { strip } of strips()) {
      const share = (from: number, to: number) => {
        const near = strip.frames
          .filter((f) => f.capturedAtS > from && f.capturedAtS < to)
          .map((f) => f.share);
        expect(near.length).toBeGreaterThan(0);
        return near.reduce((sum, s) => sum + s, 0) / near.length;
      };
      const onsetS = strip.onsetS!;
      // Three frames before, and two to three frames from 20 ms on (responses take up to 4 ms time constant).
      expect(Math.abs(share(onsetS - 0.02, onsetS - 2 * halfFrameS()))).toBeLessThan(0.1);
      const last = strip.frames.at(-1)!.capturedAtS;
      const settled = Math.max(onsetS + 0.012, Math.min(onsetS + 0.02, last - 3 * halfFrameS()));
      expect(Math.abs(share(settled, onsetS + 0.05) - 1)).toBeLessThan(0.15);
    }
  });

  it('draws the fitted curve through the frames', () => {
    for (const { strip } of strips()) {
      const { timesS, shares } = strip.fitted;
      expect(timesS).toHaveLength(shares.length);
      expect(shares[0]).toBeLessThan(0.01);
      const near = strip.frames.filter((f) => Math.abs(f.capturedAtS - strip.onsetS!) < 0.015);
      const off = near.map((frame) => {
        const i = timesS.findIndex((t) => t >= frame.capturedAtS - 1e-9);
        return frame.share - shares[i]!;
      });
      const rms = Math.sqrt(off.reduce((sum, d) => sum + d * d, 0) / off.length);
      // Noise of a frame and half a table step; a wrong curve or a shift by half a frame would show as 0.2.
      expect(rms).toBeLessThan(0.08);
    }
  });

  it('holds upright grey pictures of each region’s grid, darker before than after', () => {
    for (const { strip } of strips()) {
      const source = film.samples.regions.find((r) => r.region.name === strip.region)!;
      expect([strip.columns, strip.rows]).toEqual([source.columns, source.rows]);
      for (const frame of strip.frames) expect(frame.grey).toHaveLength(strip.columns * strip.rows);
      const brightness = (grey: Uint8Array) => grey.reduce((sum, v) => sum + v, 0) / grey.length;
      const before = strip.frames.findLast((f) => f.capturedAtS < strip.onsetS! - 2 * halfFrameS())!;
      const after = strip.frames.find((f) => f.capturedAtS > strip.onsetS! + 0.015)!;
      expect(brightness(after.grey)).toBeGreaterThan(brightness(before.grey) + 10);
    }
  });

  it('shows a press without a response as well, with nothing claimed', async () => {
    const recipe = { ...film.recipe, response: { level: 0.1, windowMs: [0, 5] as const } };
    const none = measureSamples(film.samples, film.times, film.facts, recipe);
    expect(none.record.presses.every((p) => p.status === 'no-response')).toBe(true);
    for (const [led, screen] of none.evidence.presses.values()) {
      expect(led!.onsetS).not.toBeNull();
      expect(screen!.onsetS).toBeNull();
      expect(screen!.onsetIntervalS).toBeNull();
      expect(screen!.fitted).toEqual({ timesS: [], shares: [] });
      expect(screen!.frames.length).toBeGreaterThan(0);
    }
  });
});
