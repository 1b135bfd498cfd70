import { describe, expect, it } from 'vitest';
import { expectedEdgeError, expectedUncertainty } from '../../src/latency/expectedUncertainty.js';
import { planFilming } from '../../src/latency/planFilming.js';

describe('expectedEdgeError', () => {
  // The project's check values 1.3: 200 000 simulated edges a cell, posterior mean, ten frames on each side.
  it.each([
    [1, 20, 0.049],
    [1, 50, 0.0203],
    [1, 200, 0.0051],
    [0.5, 20, 0.1339],
    [0.5, 50, 0.1168],
    [0.5, 200, 0.1065],
    [0.1, 20, 0.2581],
    [0.1, 50, 0.2519],
    [0.1, 200, 0.2476],
  ])('exposure %f, signal to noise %f: %f capture periods', (e, snr, periods) => {
    expect(Math.abs(expectedEdgeError(e, snr) / periods - 1)).toBeLessThan(0.03);
  });
  it('comes to the closed shutter alone where there is no noise: sqrt((1 - e)^3 / 12)', () => {
    expect(expectedEdgeError(0.5, 2000)).toBeCloseTo(Math.sqrt(0.5 ** 3 / 12), 2);
  });
});

describe('expectedUncertainty', () => {
  // Check values 1.4, difference of two edges at a signal-to-noise ratio of 50, ms; what the tone curve leaves, 0.012 T, beside it.
  it.each([
    [120, 0.5, 1.376],
    [240, 1, 0.12],
    [240, 0.1, 1.484],
    [960, 0.5, 0.172],
  ])('%f fps, exposure %f', (captureRateHz, exposureFraction, edgesMs) => {
    const both = Math.hypot(edgesMs, 12 / captureRateHz);
    expect(Math.abs(expectedUncertainty({ captureRateHz, exposureFraction }) / both - 1)).toBeLessThan(0.03);
  });
  it('refuses what no camera has', () => {
    expect(() => expectedUncertainty({ captureRateHz: 0, exposureFraction: 1 })).toThrow('captureRateHz');
    expect(() => expectedUncertainty({ captureRateHz: 240, exposureFraction: 1.1 })).toThrow(
      'exposureFraction',
    );
  });
});

describe('planFilming', () => {
  const setting = {
    captureRateHz: 240,
    exposureFraction: 0.5,
    refreshHz: 60,
    presses: 20,
    wantMs: null,
    marginMs: 1,
  };
  const plan = planFilming(setting);
  it('lies between the two-edge limit and the plain mean', () => {
    expect(plan.widthMs).toBeGreaterThan(plan.twoEdgeWidthMs);
    expect(plan.widthMs).toBeLessThan(plan.meanWidthMs);
  });
  it('about 400 presses for unpaired means, a handful for pairs (method 9)', () => {
    // tests/accuracy/compareTable.ts: 100 presses show it in about three of four sets at 0.6 ms, 200 in nearly all.
    expect(plan.pressesFixedDelays).toBeGreaterThan(90);
    expect(plan.pressesFixedDelays).toBeLessThan(170);
    expect(plan.pressesUnpaired).toBeGreaterThan(380);
    expect(plan.pressesUnpaired).toBeLessThan(430);
    expect(plan.pressesPaired).toBeGreaterThanOrEqual(5);
    expect(plan.pressesPaired).toBeLessThanOrEqual(15);
  });
  it('the presses for the width that so many presses give are about as many', () => {
    const { pressesForWant } = planFilming({ ...setting, wantMs: plan.widthMs });
    expect(Math.abs(pressesForWant! - 20)).toBeLessThanOrEqual(3);
    expect(plan.pressesForWant).toBeNull();
  });
});
