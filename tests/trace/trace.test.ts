import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { type ClipSamples, LIGHT_SCALE } from '../../src/samples/samples.js';
import { lampGain, makeTrace, meanLight, project, stretchOf } from '../../src/trace/trace.js';

const PERIOD_S = 1 / 240;
/** Light is stored in steps of 1/50000 and kept in single precision. */
const STORED = 2 / LIGHT_SCALE;

interface Sheet {
  readonly name?: string;
  readonly columns: number;
  readonly rows: number;
  readonly frames: number;
  readonly at: (frame: number, cell: number) => number;
  readonly clippedShare?: readonly number[];
}

function samplesOf(...sheets: readonly Sheet[]): ClipSamples {
  const { frames } = sheets[0]!;
  return {
    frames,
    frameChange: new Float32Array(frames),
    regions: sheets.map(({ name = 'top', columns, rows, at, clippedShare }) => {
      const cells = columns * rows;
      return {
        region: { name, role: 'screen', x: 0, y: 0, width: columns, height: rows },
        columns,
        rows,
        cellPx: 1,
        light: Uint16Array.from({ length: frames * cells }, (_, i) =>
          Math.round(LIGHT_SCALE * at(Math.floor(i / cells), i % cells)),
        ),
        clippedShare: Float32Array.from({ length: cells }, (_, c) => clippedShare?.[c] ?? 0),
        // Rows from 40 % to 60 % of the sensor.
        readoutPosition: Float32Array.from(
          { length: cells },
          (_, c) => 0.4 + (0.2 * (Math.floor(c / columns) + 0.5)) / rows,
        ),
      };
    }),
  };
}

function clockOf(frames: number) {
  return {
    capturedAtS: Float64Array.from({ length: frames }, (_, k) => k * PERIOD_S),
    periodS: PERIOD_S,
    missingBefore: new Uint16Array(frames),
  };
}

const plain: Sheet = { columns: 3, rows: 4, frames: 20, at: (k, c) => 0.1 + 0.01 * c + (k >= 10 ? 0.3 : 0) };

describe('trace of a region', () => {
  it('knows where rows lie whose last one is cut short by the end of the region', () => {
    // 14 px in cells of 4 px: rows of 4, 4, 4 and 2 px.
    const samples = samplesOf(plain);
    const [first] = samples.regions;
    const region = { ...first!.region, height: 14 };
    const trace = makeTrace(
      { ...samples, regions: [{ ...first!, region, cellPx: 4 }] },
      'top',
      clockOf(20),
      0,
    );
    const middles = [2, 6, 10, 13];
    for (let c = 0; c < 12; c++) expect(trace.down[c]).toBeCloseTo(middles[Math.floor(c / 3)]! / 14, 6);
    const { from, extent } = stretchOf(trace, [6, 7, 8, 9, 10, 11]);
    expect(from).toBeCloseTo(8 / 14, 6);
    expect(extent).toBeCloseTo(6 / 14, 6);
  });

  it('holds the light of every cell', () => {
    const trace = makeTrace(samplesOf(plain), 'top', clockOf(20), 0);
    expect(trace).toMatchObject({ frames: 20, cells: 12, clippedCells: 0, saturated: false });
    for (const [k, c] of [
      [0, 0],
      [9, 11],
      [10, 5],
      [19, 11],
    ] as const) {
      expect(Math.abs(trace.light[k * 12 + c]! - plain.at(k, c))).toBeLessThan(STORED);
    }
  });

  it('opens later for rows further down the readout', () => {
    const rho = 0.8;
    const clock = clockOf(20);
    const trace = makeTrace(samplesOf(plain), 'top', clock, rho);
    // The region's middle lies at half of the readout.
    trace.openS.forEach((openS, k) => {
      expect(openS - clock.capturedAtS[k]!).toBeCloseTo(rho * PERIOD_S * 0.5, 9);
    });
    // Rows at 0.425, 0.475, 0.525 and 0.575 of the readout, with three cells each.
    trace.openOffsetS.forEach((offsetS, c) => {
      const position = 0.425 + 0.05 * Math.floor(c / 3);
      expect(offsetS).toBeCloseTo(rho * PERIOD_S * (position - 0.5), 8);
      expect(trace.down[c]).toBeCloseTo((Math.floor(c / 3) + 0.5) / 4, 6);
    });
    expect([...makeTrace(samplesOf(plain), 'top', clock, 0).openOffsetS].every((s) => s === 0)).toBe(true);
    // What the trace makes of the clock is its own: the clock stays as it was.
    expect(clock.capturedAtS[1]).toBe(PERIOD_S);
  });

  it('leaves out cells that clip, as long as some are left', () => {
    const clippedShare = [0.5, 0.5, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0];
    const trace = makeTrace(samplesOf({ ...plain, clippedShare }), 'top', clockOf(20), 0);
    expect(trace).toMatchObject({ cells: 10, saturated: false });
    expect(trace.clippedCells).toBeCloseTo(2 / 12, 9);
    expect(Math.abs(trace.light[0]! - plain.at(0, 2))).toBeLessThan(STORED);
    const all = makeTrace(samplesOf({ ...plain, clippedShare: Array(12).fill(0.5) }), 'top', clockOf(20), 0);
    expect(all).toMatchObject({ cells: 12, saturated: true, clippedCells: 1 });
    // One row of four is left, with three of the twelve cells.
    const oneRow = Array.from({ length: 12 }, (_, c) => (c < 9 ? 0.5 : 0));
    const few = makeTrace(samplesOf({ ...plain, clippedShare: oneRow }), 'top', clockOf(20), 0);
    expect(few).toMatchObject({ cells: 12, saturated: true });
  });

  it('knows how many of the region’s cells each of those that are left stands for, row by row', () => {
    // 3 columns, 4 rows: two are left in the first row, none in the second, one in the third, three in the last.
    const clippedShare = [0, 0, 0.5, 0.5, 0.5, 0.5, 0, 0.5, 0.5, 0, 0, 0];
    const trace = makeTrace(samplesOf({ ...plain, clippedShare }), 'top', clockOf(20), 0);
    // The second row goes half to the first and half to the third.
    expect([...trace.standsFor!]).toEqual([2.25, 2.25, 4.5, 1, 1, 1]);
    expect(makeTrace(samplesOf(plain), 'top', clockOf(20), 0).standsFor).toBeUndefined();
  });

  it('estimates each cell’s own noise, whatever steps are in it', () => {
    const random = seededRandom(81);
    const sds = [0.002, 0.005, 0.02];
    const frames = 900;
    const values = Array.from({ length: frames * 3 }, (_, i) => random.normal(0, sds[i % 3]!));
    const at = (k: number, c: number) => 0.3 + (k % 60 < 30 ? 0.3 : 0) + values[k * 3 + c]!;
    const trace = makeTrace(samplesOf({ columns: 3, rows: 1, frames, at }), 'top', clockOf(frames), 0);
    // A median of 899 absolute differences scatters by about 5 % (neighbouring differences share a frame).
    sds.forEach((sd, c) => {
      expect(trace.noise[c]! / sd).toBeGreaterThan(0.85);
      expect(trace.noise[c]! / sd).toBeLessThan(1.15);
    });
  });

  it('never believes in noiseless cells', () => {
    const trace = makeTrace(samplesOf(plain), 'top', clockOf(20), 0);
    expect(Math.min(...trace.noise)).toBeGreaterThan(0);
  });

  it('projects as an inner product, and means over frames', () => {
    const trace = makeTrace(samplesOf(plain), 'top', clockOf(20), 0);
    const direction = Float64Array.from({ length: 12 }, (_, c) => c - 3);
    const signal = project(trace, direction);
    expect(signal).toHaveLength(20);
    for (const k of [0, 10, 19]) {
      const byHand = direction.reduce((sum, d, c) => sum + d * plain.at(k, c), 0);
      expect(signal[k]).toBeCloseTo(byHand, 3);
    }
    const mean = meanLight(trace, 8, 12);
    expect(mean[4]).toBeCloseTo(plain.at(0, 4) + 0.15, 4);
    // Beyond the clip's ends there is nothing to average.
    expect([...meanLight(trace, -5, 3)]).toEqual([...meanLight(trace, 0, 3)]);
    expect([...meanLight(trace, 18, 40)]).toEqual([...meanLight(trace, 18, 20)]);
  });

  it('is refused for a region that was not sampled', () => {
    expect(() => makeTrace(samplesOf(plain), 'bottom', clockOf(20), 0)).toThrow(/bottom/);
  });
});

describe('reference region', () => {
  const ripple = (k: number) => 1 + 0.2 * Math.sin(2.1 * k);
  const wall: Sheet = { name: 'wall', columns: 2, rows: 2, frames: 60, at: (k) => 0.4 * ripple(k) };
  const lit: Sheet = { columns: 2, rows: 1, frames: 60, at: (k) => (k >= 30 ? 0.3 : 0.1) * ripple(k) };

  it('divides the lamp’s ripple out of another region', () => {
    const samples = samplesOf(lit, wall);
    const raw = makeTrace(samples, 'top', clockOf(60), 0);
    const steady = makeTrace(samples, 'top', clockOf(60), 0, { gain: lampGain(samples, 'wall') });
    const spread = (trace: typeof raw) => {
      const plateau = Array.from({ length: 25 }, (_, k) => trace.light[2 * (k + 32)]!);
      return (Math.max(...plateau) - Math.min(...plateau)) / plateau[0]!;
    };
    expect(spread(raw)).toBeGreaterThan(0.3);
    expect(spread(steady)).toBeLessThan(1e-3);
    // The step's ratio is the chain's, not the lamp's.
    expect(steady.light[100]! / steady.light[20]!).toBeCloseTo(3, 2);
  });

  it('changes nothing where the lamp is steady, and survives darkness', () => {
    const samples = samplesOf(lit, { ...wall, at: () => 0.4 }, { ...wall, name: 'dark', at: () => 0 });
    expect([...lampGain(samples, 'wall')].every((g) => g === 1)).toBe(true);
    expect([...lampGain(samples, 'dark')].every((g) => Number.isFinite(g))).toBe(true);
    expect(() => lampGain(samples, 'nowhere')).toThrow(/nowhere/);
  });
});
