import { describe, expect, it } from 'vitest';
import {
  exponentialStep,
  INSTANT,
  type StepResponse,
  scannedIntegral,
  scannedStep,
  stepAt,
  stepDoubleIntegral,
  stepIntegral,
} from '../../src/simulate/stepResponse.js';
import { simpson } from './bruteForce.js';

const steps: readonly [string, StepResponse][] = [
  ['instant', INSTANT],
  ['exponential', exponentialStep(3)],
  ['overshoot', exponentialStep(2, { amplitude: 0.3, relaxMs: 6 })],
];

describe('step responses', () => {
  it.each(steps)('%s: starts at 0, ends at 1', (_, step) => {
    expect(stepAt(step, 0)).toBe(0);
    expect(stepAt(step, -0.01)).toBe(0);
    expect(stepAt(step, 1)).toBeCloseTo(1, 12);
  });

  it('takes tau ln 9 from 10 % to 90 % (check values 1.5 iv)', () => {
    const step = exponentialStep(5);
    expect(stepAt(step, 0.005 * Math.log(10 / 9))).toBeCloseTo(0.1, 12);
    expect(stepAt(step, 0.005 * Math.log(10))).toBeCloseTo(0.9, 12);
  });

  it('overshoots when told to', () => {
    const step = exponentialStep(2, { amplitude: 0.3, relaxMs: 6 });
    const highest = Math.max(...Array.from({ length: 300 }, (_, i) => stepAt(step, i * 1e-4)));
    expect(highest).toBeGreaterThan(1.05);
  });

  it.each(steps)('%s: integrals agree with numeric integration', (_, step) => {
    for (const tS of [-0.002, 0.0001, 0.003, 0.04]) {
      expect(stepIntegral(step, tS)).toBeCloseTo(
        tS > 0 ? simpson((t) => stepAt(step, t), 1e-15, tS, 4000) : 0,
        8,
      );
      expect(stepDoubleIntegral(step, tS)).toBeCloseTo(
        tS > 0 ? simpson((t) => stepIntegral(step, t), 0, tS, 4000) : 0,
        10,
      );
    }
  });

  it.each(steps)('%s: averages over lines that are drawn one after another', (_, step) => {
    for (const [fromS, toS] of [
      [-0.001, 0.003],
      [0.0005, 0.0012],
      [0.01, 0.0141],
    ] as const) {
      const firstS = 0.0003;
      const lastS = 0.0011;
      const numeric =
        simpson((d) => stepIntegral(step, toS - d) - stepIntegral(step, fromS - d), firstS, lastS, 4000) /
        (lastS - firstS);
      expect(scannedIntegral(step, fromS, toS, firstS, lastS)).toBeCloseTo(numeric, 9);
      const atOnce = simpson((d) => stepAt(step, toS - d), firstS, lastS, 4000) / (lastS - firstS);
      expect(scannedStep(step, toS, firstS, lastS)).toBeCloseTo(atOnce, 4);
    }
  });

  it('lines drawn at once are the limit of lines drawn ever faster', () => {
    const step = exponentialStep(3);
    const once = scannedIntegral(step, 0, 0.004, 0.001, 0.001);
    expect(scannedIntegral(step, 0, 0.004, 0.001 - 1e-6, 0.001 + 1e-6)).toBeCloseTo(once, 9);
  });
});
