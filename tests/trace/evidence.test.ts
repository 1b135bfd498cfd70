import { describe, expect, it } from 'vitest';
import type { RegionSamples } from '../../src/samples/samples.js';
import { seededStream } from '../../src/simulate/random.js';
import { meanLightOf } from '../../src/trace/meanLight.js';
import { rippleOf as rippleOfLight } from '../../src/trace/regularRipple.js';
import { shakeOf as shakeOfPicture } from '../../src/trace/shake.js';

const FRAMES = 960;
const RATE_HZ = 240;
const SIDE = 20;
const quiet = new Uint8Array(FRAMES).fill(1);

function film(
  lightAt: (x: number, y: number, k: number) => number,
  noise: number,
  cellPx = 2,
): RegionSamples {
  const draw = seededStream(7, 1).normal;
  const light = new Uint16Array(FRAMES * SIDE * SIDE);
  for (let k = 0; k < FRAMES; k++) {
    for (let c = 0; c < SIDE * SIDE; c++) {
      light[k * SIDE * SIDE + c] = lightAt(c % SIDE, Math.floor(c / SIDE), k) + noise * draw();
    }
  }
  return {
    ...{ region: { name: 'led', role: 'led', x: 0, y: 0, width: SIDE * cellPx, height: SIDE * cellPx } },
    ...{ columns: SIDE, rows: SIDE, cellPx, light },
    ...{ clippedShare: new Float32Array(SIDE * SIDE), readoutPosition: new Float32Array(SIDE * SIDE) },
  };
}

const shakeOf = (region: RegionSamples, still: Uint8Array) =>
  shakeOfPicture(region, meanLightOf(region, FRAMES), still);
const rippleOf = (region: RegionSamples, still: Uint8Array, rateHz: number) =>
  rippleOfLight(meanLightOf(region, FRAMES), still, rateHz);

/** A round spot, 3 cells wide, on a grey ground. */
const spot = (x: number, y: number) =>
  8000 + 20_000 * Math.exp(-((x - 9.5) ** 2 + (y - 9.5) ** 2) / (2 * 3 ** 2));
const hand = (k: number) => Math.sin((2 * Math.PI * 3 * k) / RATE_HZ);

describe('shakeOf', () => {
  it.each([0.2, 0.5, 1])(
    'gives the root mean square of a wave of amplitude %s cells in x, in px',
    (cells) => {
      const moved = film((x, y, k) => spot(x - cells * hand(k), y), 100);
      // A sine's root mean square is its amplitude over the square root of two; 2 px a cell.
      expect(shakeOf(moved, quiet)! / ((2 * cells) / Math.SQRT2)).toBeCloseTo(1, 0.9);
    },
  );

  it('is nearly nothing for a phone at rest, whatever noise, ripple and exposure do', () => {
    const still = film((x, y, k) => spot(x, y) * (1 + 0.1 * hand(k)) + 500 * hand(2 * k), 400);
    expect(shakeOf(still, quiet)).toBeLessThan(0.1);
  });

  it('takes errors of lossy coding, which last for some frames, for no movement', () => {
    const draw = seededStream(8, 1).normal;
    const blocks = new Float64Array(25);
    let frame = -1;
    const coded = film((x, y, k) => {
      if (k !== frame) {
        frame = k;
        for (let b = 0; b < blocks.length; b++) blocks[b] = 0.95 * blocks[b]! + 60 * draw();
      }
      return 9000 + 40 * ((x * 7 + y * 3) % 5) + blocks[5 * Math.floor(y / 4) + Math.floor(x / 4)]!;
    }, 20);
    expect(shakeOf(coded, quiet)).toBeNull();
  });

  it('says nothing of a picture without detail, of one too small, and of too few quiet frames', () => {
    const flat = film(() => 9000, 300);
    expect(shakeOf(flat, quiet)).toBeNull();
    expect(shakeOf({ ...flat, columns: 4, rows: 100 }, quiet)).toBeNull();
    const moved = film((x, y, k) => spot(x - hand(k), y), 100);
    expect(
      shakeOf(
        moved,
        quiet.map((_, k) => (k < 50 ? 1 : 0)),
      ),
    ).toBeNull();
  });
});

describe('rippleOf', () => {
  // A lamp on 50 Hz mains ripples at 100 Hz (common practice, no source).
  it.each([
    [100, 0.05, 100],
    [37.5, 0.02, 37.5],
    // Folded: 220 Hz seen at 240 frames a second (the sampling theorem).
    [220, 0.1, 20],
    // Up and down from frame to frame.
    [120, 0.05, 120],
  ])('finds %s Hz of depth %s at %s Hz', (hz, depth, seenHz) => {
    const lamp = film((_x, _y, k) => 9000 * (1 + depth * Math.cos((2 * Math.PI * hz * k) / RATE_HZ)), 100);
    const ripple = rippleOf(lamp, quiet, RATE_HZ)!;
    expect(Math.abs(ripple.seenHz - seenHz)).toBeLessThan(RATE_HZ / 64);
    expect(ripple.depth / depth).toBeCloseTo(1, 0.9);
  });

  it('takes no slow wandering, and no trace of a ripple, for one', () => {
    let wander = 0;
    const draw = seededStream(9, 1).normal;
    const walk = Array.from({ length: FRAMES }, () => {
      wander = 0.98 * wander + 30 * draw();
      return wander;
    });
    expect(
      rippleOf(
        film((_x, _y, k) => 9000 + walk[k]!, 20),
        quiet,
        RATE_HZ,
      ),
    ).toBeNull();
    const faint = film((_x, _y, k) => 9000 * (1 + 0.001 * Math.cos((2 * Math.PI * 60 * k) / RATE_HZ)), 20);
    expect(rippleOf(faint, quiet, RATE_HZ)).toBeNull();
  });

  it('finds none in noise, nor where nothing is quiet for long', () => {
    expect(
      rippleOf(
        film(() => 9000, 300),
        quiet,
        RATE_HZ,
      ),
    ).toBeNull();
    const lamp = film((_x, _y, k) => 9000 * (1 + 0.1 * hand(20 * k)), 100);
    expect(
      rippleOf(
        lamp,
        quiet.map((_, k) => (k % 60 === 0 ? 0 : 1)),
        RATE_HZ,
      ),
    ).toBeNull();
  });
});
