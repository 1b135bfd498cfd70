/** A thumb that passes over a light: what comes back again and again in the same blocks is the light. */
import { describe, expect, it } from 'vitest';
import { blockContrasts, type Overview } from '../../src/region/activity.js';
import { commonestPart } from '../../src/region/commonestPart.js';
import { findPatches, type Patch } from '../../src/region/patches.js';

const COLUMNS = 80;
const ROWS = 60;
const FRAMES = 900;
const LED = { x: 18, y: 14, size: 3 };
const THUMB = { x: 12, y: 9, width: 16, height: 13 };
const PRESSES = [60, 180, 320, 430, 560, 700, 820];

type Span = readonly [number, number];

/** Frames 0 to 899 at 240 a second; the thumb lies over everything around the light in `thumbs`. */
function film(thumbs: readonly Span[], light = 120, glow = 0.5, faint: readonly Span[] = []): Overview {
  const luma = new Uint8Array(COLUMNS * ROWS * FRAMES);
  for (let k = 0; k < FRAMES; k++) {
    const isLit = PRESSES.some((p) => k >= p && k < p + 30);
    const lit = isLit ? light : faint.some(([from, to]) => k >= from && k < to) ? 0.45 * light : 0;
    const isCovered = thumbs.some(([from, to]) => k >= from && k < to);
    for (let y = 0; y < ROWS; y++) {
      for (let x = 0; x < COLUMNS; x++) {
        const inLed = x >= LED.x && x < LED.x + LED.size && y >= LED.y && y < LED.y + LED.size;
        const inThumb =
          x >= THUMB.x && x < THUMB.x + THUMB.width && y >= THUMB.y && y < THUMB.y + THUMB.height;
        // A glow around the light ties it to what the thumb covers.
        const farPx = Math.hypot(x - LED.x - 1, y - LED.y - 1);
        let code = 60 + ((x * 7 + y * 13 + k * 5) % 3);
        code += lit * (inLed ? 1 : Math.max(0, glow - 0.1 * farPx));
        if (isCovered && inThumb) code = 110;
        luma[(k * ROWS + y) * COLUMNS + x] = code;
      }
    }
  }
  return { columns: COLUMNS, rows: ROWS, frames: FRAMES, luma, rateHz: 240 };
}

describe('the commonest part of a patch', () => {
  it('is the light without the thumb', () => {
    const overview = film([
      [250, 290],
      [620, 660],
    ]);
    const series = blockContrasts(overview);
    const patch = findPatches(overview, series).find((p) =>
      p.blocks.includes((LED.y + 1) * COLUMNS + LED.x + 1),
    )!;
    const isThumb = (frame: number) => [250, 620].some((k) => Math.abs(frame - k) <= 4);
    const brighter = patch.events.filter((e) => e.change > 0).map((e) => e.frame);
    expect(brighter.some(isThumb), 'the thumb is among the changes of the whole patch').toBe(true);
    const light = commonestPart(overview, patch, 1, series);
    const presses = light.events.filter((e) => e.change > 0).map((e) => e.frame);
    expect(presses).toHaveLength(PRESSES.length);
    for (const [i, frame] of presses.entries()) expect(Math.abs(frame - PRESSES[i]!)).toBeLessThanOrEqual(1);
    expect(light.box.x1 - light.box.x0).toBeLessThanOrEqual(LED.size + 2);
    expect(light.box.y1 - light.box.y0).toBeLessThanOrEqual(LED.size + 2);
  });

  it('is the patch itself where all changes are alike', () => {
    const overview = film([]);
    const series = blockContrasts(overview);
    const [patch] = findPatches(overview, series);
    expect(commonestPart(overview, patch!, 1, series)).toBe(patch);
  });

  it('is without what looks like it and is half as strong', () => {
    const overview = film([], 120, 0.5, [
      [240, 280],
      [620, 660],
    ]);
    const series = blockContrasts(overview);
    const [patch] = findPatches(overview, series);
    const brighter = (events: Patch['events']) => events.filter((e) => e.change > 0).map((e) => e.frame);
    expect(brighter(patch!.events)).toHaveLength(PRESSES.length + 2);
    const presses = brighter(commonestPart(overview, patch!, 1, series).events);
    expect(presses).toHaveLength(PRESSES.length);
    for (const [i, frame] of presses.entries()) expect(Math.abs(frame - PRESSES[i]!)).toBeLessThanOrEqual(1);
  });

  it.each([25, 12])('may be a patch of its own: a light of %d codes, dimmer than the thumb', (light) => {
    const thumbs = [
      [250, 290],
      [620, 660],
      [865, 885],
    ] as const;
    const overview = film(thumbs, light, 0);
    const middle = (LED.y + 1) * COLUMNS + LED.x + 1;
    const [whole, part, ...others] = findPatches(overview).filter((p) => p.blocks.includes(middle));
    const near = (frame: number) => (p: number) => Math.abs(frame - p) <= 1;
    expect(whole!.events.some((e) => PRESSES.some(near(e.frame)))).toBe(false);
    const brighter = part!.events.filter((e) => e.change > 0).map((e) => e.frame);
    expect(brighter).toHaveLength(PRESSES.length);
    for (const press of PRESSES) expect(brighter.some(near(press))).toBe(true);
    expect(part!.box).toEqual({ x0: LED.x, y0: LED.y, x1: LED.x + LED.size, y1: LED.y + LED.size });
    expect(others).toEqual([]);
  });
});
