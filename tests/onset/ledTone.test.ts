import { describe, expect, it } from 'vitest';
import { ledToneBend, toneToTakeOut } from '../../src/onset/ledTone.js';
import type { Onset } from '../../src/onset/onset.js';
import { straightLight } from '../../src/trace/toneBend.js';
import type { Trace } from '../../src/trace/trace.js';
import { decodeLight, encodeLight } from '../../src/units.js';

const SIDE = 9;
const CELLS = SIDE * SIDE;
const EDGES = 24;
const SPACING = 30;
const OFF = 0.01;

/** A deterministic value in 0..1. */
const unit = (i: number) => Math.abs((Math.sin(i * 12.9898) * 43758.5453) % 1);
/** Core and halo of an LED, light when fully on. */
const glow = (cell: number) => {
  const [x, y] = [(cell % SIDE) - SIDE / 2 + 0.5, Math.floor(cell / SIDE) - SIDE / 2 + 0.5];
  return 0.6 * Math.exp(-(x * x + y * y) / 8);
};

/** An LED that goes on and off, each edge at another place of its exposure, through a curve of the camera. */
function ledTrace(curve: (light: number) => number, shape = glow): { trace: Trace; onsets: Onset[] } {
  const frames = (EDGES + 1) * SPACING;
  const light = new Float32Array(frames * CELLS);
  const onsets = Array.from({ length: EDGES }, (_, e) => ({ frame: (e + 1) * SPACING }) as unknown as Onset);
  for (let k = 0; k < frames; k++) {
    const edge = Math.floor(k / SPACING);
    const isOn = edge % 2 === 1;
    const part = 0.15 + 0.7 * unit(edge);
    const lit = edge === 0 ? 0 : k % SPACING === 0 ? (isOn ? part : 1 - part) : isOn ? 1 : 0;
    for (let c = 0; c < CELLS; c++) {
      const noise = 0.002 * (unit(k * CELLS + c) - 0.5);
      light[k * CELLS + c] = curve(OFF + lit * shape(c)) + noise;
    }
  }
  const trace = {
    cells: CELLS,
    frames,
    light,
    noise: new Float32Array(CELLS).fill(0.001),
    openOffsetS: new Float32Array(CELLS),
    down: Float32Array.from({ length: CELLS }, (_, c) => Math.floor(c / SIDE) / SIDE),
    saturated: false,
  } as unknown as Trace;
  return { trace, onsets };
}
const bendOf = (curve: (light: number) => number, shape = glow) => {
  const { trace, onsets } = ledTrace(curve, shape);
  return ledToneBend(trace, onsets);
};
// The global operator of E. Reinhard, M. Stark, P. Shirley, J. Ferwerda, 2002, scaled so that white stays white (from memory).
const operator = (b: number) => (v: number) => ((1 + b) * v) / (1 + b * v);

describe("the bend of a camera's tone curve by an LED", () => {
  it.each([0, 0.5, 1, 2])('is found, %f, and taken out', (bend) => {
    const found = bendOf(operator(bend))!;
    expect(found.bend).toBeCloseTo(bend, 1);
    expect(found.sd).toBeLessThan(0.1);
    const out = toneToTakeOut(found);
    const left = straightLight(operator(bend)(0.3), out.bend) / straightLight(operator(bend)(0.6), out.bend);
    expect(left).toBeCloseTo(0.5, 1);
    expect(out.bend === 0).toBe(bend === 0);
  });

  it('does not show in a plain power, which keeps ratios of light alike in all cells', () => {
    const found = bendOf((v) => (v - OFF > 0 ? OFF + (v - OFF) ** 0.8 : v))!;
    expect(Math.abs(found.bend)).toBeLessThan(0.1);
  });

  it('mends a curve of another form as well: half of what is left of half a light, at most', () => {
    const shoulder = (v: number) => (1 - Math.exp(-2 * v)) / (1 - Math.exp(-2));
    const { bend } = toneToTakeOut(bendOf(shoulder)!);
    const half = (b: number) => straightLight(shoulder(0.3), b) / straightLight(shoulder(0.6), b);
    expect(Math.abs(half(bend) - 0.5)).toBeLessThan(0.5 * Math.abs(half(0) - 0.5));
  });

  it('is not told by a red LED, whose luma is bent by the encoding of its channel', () => {
    // ITU-R BT.709-6: encoding of a channel (1.2), weight of red in the luma (3.2), and the luma taken for a grey's.
    const red = (v: number) => decodeLight(0.2126 * encodeLight(v, 'bt709'), 'bt709');
    expect(bendOf(red)).toBeNull();
    const green = (v: number) => decodeLight(0.7152 * encodeLight(v, 'bt709'), 'bt709');
    expect(toneToTakeOut(bendOf(green)!).bend).toBeLessThan(0.35);
  });

  it('is not told by an LED whose cells are all alike, nor by one that clips', () => {
    expect(bendOf(operator(1), () => 0.5)).toBeNull();
    const { trace, onsets } = ledTrace(operator(1));
    expect(ledToneBend({ ...trace, saturated: true }, onsets)).toBeNull();
    expect(ledToneBend(trace, onsets.slice(0, 5))).toBeNull();
  });
});
