import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type LatencyConditions, latencyOf } from '../../src/latency/latencies.js';
import type { Onset } from '../../src/onset/onset.js';
import type { Press, Response } from '../../src/press/pairPresses.js';

function onset(levelS: number, change: Partial<Onset> = {}): Onset {
  return {
    frame: Math.round(levelS * 240),
    kind: 0,
    sign: 1,
    contrast: 50,
    firstLightS: levelS,
    levelS,
    halfS: levelS,
    settledS: levelS,
    sdS: 0,
    excessKurtosis: 0,
    intervalS: [levelS, levelS],
    before: 0,
    after: 1,
    flags: [],
    ...change,
  };
}

function press(led: Onset, screen: Onset | null, status: Response['status'] = 'measured'): Press {
  return {
    index: 3,
    led,
    status: 'measured',
    flags: led.flags,
    responses: [{ region: 'top', status, onset: screen, flags: screen?.flags ?? [] }],
  };
}

/** Nothing is uncertain. */
const exact: LatencyConditions = {
  periodMs: 4,
  rateUncertaintyRel: 0,
  timestampMs: 0,
  exposureSd: 0,
  readoutSd: 0,
  readoutDistance: 0,
  cueDelayMs: 0,
  cueDelayUncertaintyMs: 0,
  shapeMs: 0,
  toneCurveT: 0,
  toneOfLedAlone: false,
  // Two instant edges, see below.
  perExposure: Math.sqrt(2 / 12),
  clippedT: 0,
};

describe('latency of one press', () => {
  it('is response less press, the press being the LED less its own delay, ms', () => {
    const latency = latencyOf(press(onset(1.2), onset(1.2684)), 'top', { ...exact, cueDelayMs: 1.5 });
    expect(latency).toMatchObject({ pressIndex: 3, region: 'top', uncertaintyMs: 0, budget: [] });
    expect(latency!.latencyMs).toBeCloseTo(69.9, 9);
    expect(latency!.intervalMs[0]).toBeCloseTo(69.9, 9);
  });

  it('changes its sign and nothing else when LED and screen change places', () => {
    const conditions = { ...exact, readoutDistance: 0.3, readoutSd: 0.2, exposureSd: 0.1 };
    const a = onset(2, { sdS: 0.0003, excessKurtosis: -1.2 });
    const b = onset(2.07, { sdS: 0.0005 });
    const there = latencyOf(press(a, b), 'top', conditions)!;
    const back = latencyOf(press(b, a), 'top', { ...conditions, readoutDistance: -0.3 })!;
    expect(back.latencyMs).toBeCloseTo(-there.latencyMs, 12);
    expect(back.uncertaintyMs).toBeCloseTo(there.uncertaintyMs, 12);
    expect(back.intervalMs[0]).toBeCloseTo(-there.intervalMs[1], 12);
    expect(back.intervalMs[1]).toBeCloseTo(-there.intervalMs[0], 12);
  });

  it('adds its parts in quadrature, and lists each with its unit, type and whether all presses share it', () => {
    const conditions: LatencyConditions = {
      periodMs: 4,
      rateUncertaintyRel: 1e-3,
      timestampMs: 0.05,
      exposureSd: 0.1,
      readoutSd: 1 / Math.sqrt(12),
      readoutDistance: -0.25,
      cueDelayMs: 0,
      cueDelayUncertaintyMs: 0.2,
      shapeMs: 0.1,
      toneCurveT: 0.02,
      toneOfLedAlone: false,
      perExposure: Math.sqrt(2 / 12),
      clippedT: 0.1,
    };
    const p = press(onset(1, { sdS: 0.0003 }), onset(1.08, { sdS: 0.0004 }));
    const latency = latencyOf(p, 'top', conditions)!;
    const part = new Map(latency.budget.map((b) => [b.name, b]));
    const expected: readonly (readonly [string, number, 'A' | 'B', boolean])[] = [
      ['LED onset', 0.3, 'A', false],
      ['screen onset', 0.4, 'A', false],
      ['response form', 0.1, 'A', true],
      ['tone curve', 0.08, 'B', false],
      ['clipped light', 0.4, 'B', true],
      // Two stamps.
      ['timestamps', 0.05 * Math.SQRT2, 'B', false],
      // A quarter of the rows, anything from none to a whole period of readout.
      ['row readout', (0.25 * 4) / Math.sqrt(12), 'B', true],
      ['capture rate', 0.08, 'B', true],
      ['LED delay', 0.2, 'B', true],
    ];
    for (const [name, u, type, common] of expected) {
      expect(part.get(name), name).toMatchObject({ type, common });
      expect(part.get(name)!.standardUncertaintyMs, name).toBeCloseTo(u, 9);
    }
    const sum = latency.budget.reduce((total, b) => total + b.standardUncertaintyMs ** 2, 0);
    expect(latency.uncertaintyMs).toBeCloseTo(Math.sqrt(sum), 12);
  });

  it('an exposure that is not known costs part of a frame, less than all of it', () => {
    const p = press(onset(1), onset(1.06));
    const one = latencyOf(p, 'top', { ...exact, exposureSd: 0.1 })!.uncertaintyMs;
    expect(latencyOf(p, 'top', { ...exact, exposureSd: 0.2 })!.uncertaintyMs).toBeCloseTo(2 * one, 9);
    // Check-values 1.4: partly lit edges err by de (1 - f) T with f uniform, both edges alike in the mean; the
    // difference of two independent ones has sd sqrt(2/12) = 0.41 de T.
    expect(one).toBeCloseTo(Math.sqrt(2 / 12) * 0.1 * 4, 2);
  });

  it('a tone curve that bends the LED alone counts where a frame shows its edge partly lit', () => {
    const conditions = { ...exact, toneCurveT: 0.1, toneOfLedAlone: true };
    const toneOf = (led: Onset) =>
      latencyOf(press(led, onset(1.06)), 'top', conditions)!.budget.find((b) => b.name === 'tone curve')
        ?.standardUncertaintyMs ?? 0;
    expect(toneOf(onset(1, { sdS: 1e-5 }))).toBeCloseTo(0.4, 12);
    expect(toneOf(onset(1, { sdS: 1e-3, excessKurtosis: -1.2 }))).toBe(0);
    const between = toneOf(onset(1, { sdS: 1e-3, excessKurtosis: -0.3 }));
    expect(between).toBeGreaterThan(0);
    expect(between).toBeLessThan(0.4);
  });

  it('widens where a missing frame touches either edge', () => {
    const flag = { flags: ['dropped-frame-nearby'] };
    const plain = latencyOf(press(onset(1, { sdS: 1e-4 }), onset(1.06)), 'top', exact)!;
    const once = latencyOf(press(onset(1, { sdS: 1e-4, ...flag }), onset(1.06)), 'top', exact)!;
    const twice = latencyOf(press(onset(1, { sdS: 1e-4, ...flag }), onset(1.06, flag)), 'top', exact)!;
    expect(plain.uncertaintyMs).toBeCloseTo(0.1, 12);
    expect(once.uncertaintyMs).toBeGreaterThan(4 / Math.sqrt(12));
    expect(twice.uncertaintyMs).toBeGreaterThan(once.uncertaintyMs);
    expect(once.latencyMs).toBe(plain.latencyMs);
  });

  it('interval: symmetric, wider with every part, by the factor of the parts’ forms', () => {
    const closed = { sdS: 0.001, excessKurtosis: -1.2 };
    const cases = [
      { p: press(onset(1, { sdS: 0.001 }), onset(1.06)), factor: 1.96 },
      { p: press(onset(1, closed), onset(1.06)), factor: 0.95 * Math.sqrt(3) },
      { p: press(onset(1, closed), onset(1.06, closed)), factor: Math.sqrt(6) * (1 - Math.sqrt(0.05)) },
    ];
    for (const { p, factor } of cases) {
      const { intervalMs, latencyMs, uncertaintyMs } = latencyOf(p, 'top', exact)!;
      expect((intervalMs[1] - latencyMs) / uncertaintyMs).toBeCloseTo(factor, 2);
      expect(intervalMs[0] + intervalMs[1]).toBeCloseTo(2 * latencyMs, 9);
    }
  });

  it('uncertainty never shrinks when a condition gets worse', () => {
    const size = fc.double({ min: 0, max: 1, noNaN: true });
    const keys = ['timestampMs', 'exposureSd', 'cueDelayUncertaintyMs', 'shapeMs', 'toneCurveT'] as const;
    fc.assert(
      fc.property(
        fc.record(Object.fromEntries(keys.map((k) => [k, size]))),
        fc.nat(4),
        size,
        (given, which, more) => {
          const base = { ...exact, ...given } as LatencyConditions;
          const key = keys[which]!;
          const p = press(onset(1, { sdS: 0.0002 }), onset(1.06, { sdS: 0.0001 }));
          const before = latencyOf(p, 'top', base)!;
          const after = latencyOf(p, 'top', { ...base, [key]: base[key] + more })!;
          expect(after.uncertaintyMs).toBeGreaterThanOrEqual(before.uncertaintyMs - 1e-12);
          expect(after.latencyMs).toBe(before.latencyMs);
        },
      ),
      { numRuns: 100, seed: 2101 },
    );
  });

  it('is none without a measured response', () => {
    expect(latencyOf(press(onset(1), null, 'no-response'), 'top', exact)).toBeNull();
    expect(latencyOf(press(onset(1), null, 'ambiguous'), 'top', exact)).toBeNull();
    expect(latencyOf(press(onset(1), onset(1.1)), 'elsewhere', exact)).toBeNull();
  });
});
