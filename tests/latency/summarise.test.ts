import { describe, expect, it } from 'vitest';
import type { Latency } from '../../src/latency/latencies.js';
import type { RefreshPeriod } from '../../src/latency/refreshPeriod.js';
import { summariseLatencies } from '../../src/latency/summarise.js';
import { verdictSentence } from '../../src/latency/verdict.js';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import type { WaitModelFit } from '../../src/stats/waitModel.js';

const sixty: RefreshPeriod = { periodMs: 1000 / 60, source: 'stated', measuredMs: null, warnings: [] };
const none: RefreshPeriod = { periodMs: null, source: 'none', measuredMs: null, warnings: [] };

/** Latencies with 0.3 ms of their own and 0.4 ms that all share: 0.5 ms together. */
function latencies(values: readonly number[]): Latency[] {
  return values.map((latencyMs, i) => ({
    pressIndex: i + 1,
    region: 'top',
    latencyMs,
    uncertaintyMs: 0.5,
    intervalMs: [latencyMs - 1, latencyMs + 1],
    budget: [
      { name: 'LED onset', standardUncertaintyMs: 0.3, type: 'A', common: false },
      { name: 'row readout', standardUncertaintyMs: 0.4, type: 'B', common: true },
    ],
  }));
}

describe('summary of latencies', () => {
  it('of a list that can be done by hand', () => {
    const s = summariseLatencies(latencies([50, 58, 54, 52, 56, 60, 62]), none)!;
    expect(s).toMatchObject({
      n: 7,
      minimumMs: 50,
      maximumMs: 62,
      medianMs: 56,
      meanMs: 56,
      displayFrameMs: null,
    });
    // Squares 36 + 16 + 4 + 0 + 4 + 16 + 36 = 112 over 6.
    expect(s.sdMs).toBeCloseTo(Math.sqrt(112 / 6), 12);
    // Check-values 3.3: n = 7 has the whole range, at 98.44 %.
    expect(s.medianIntervalMs).toEqual([50, 62]);
    expect(s.medianConfidence).toBeCloseTo(0.9844, 4);
    expect(s.commonUncertaintyMs).toBeCloseTo(0.4, 12);
    // Type 8 of Hyndman and Fan: h = (n + 1/3) p + 1/3 = 2.1667 and 5.8333 at the quartiles.
    expect(s.quantilesMs.p25).toBeCloseTo(52 + 2 / 6, 9);
    expect(s.quantilesMs.p75).toBeCloseTo(58 + 2 * (5 / 6), 9);
  });

  it('uses quantiles of type 8 (check-values 3.2, oracle B: 1 to 10)', () => {
    const s = summariseLatencies(latencies([10, 3, 7, 1, 9, 2, 8, 4, 6, 5]), none)!;
    expect(s.quantilesMs.p25).toBeCloseTo(2.9166667, 6);
    expect(s.quantilesMs.p05).toBeCloseTo(1, 9);
    expect(s.quantilesMs.p95).toBeCloseTo(10, 9);
    expect(s.medianMs).toBe(5.5);
    // Check-values 3.3: ranks (2, 9), 97.85 %.
    expect(s.medianIntervalMs).toEqual([2, 9]);
    expect(s.medianConfidence).toBeCloseTo(0.9785, 4);
  });

  it('does not depend on the order of presses', () => {
    const random = seededRandom(71);
    const values = Array.from({ length: 12 }, () => 40 + 16 * random.uniform());
    const forwards = summariseLatencies(latencies(values), sixty)!;
    const backwards = summariseLatencies(latencies([...values].reverse()), sixty)!;
    expect(backwards.medianMs).toBe(forwards.medianMs);
    expect(backwards.quantilesMs).toEqual(forwards.quantilesMs);
    expect(backwards.waitModel!.fixedDelayMs).toBeCloseTo(forwards.waitModel!.fixedDelayMs, 6);
    expect(backwards.verdict).toBe(forwards.verdict);
  });

  it('finds the fixed delay behind a wait of one refresh', () => {
    const random = seededRandom(72);
    const values = Array.from(
      { length: 30 },
      () => 61 + (1000 / 60) * random.uniform() + random.normal(0, 0.3),
    );
    const s = summariseLatencies(latencies(values), sixty)!;
    expect(s.displayFrameMs).toBeCloseTo(16.667, 3);
    expect(s.waitModel!.intervalMs[0]).toBeLessThan(61);
    expect(s.waitModel!.intervalMs[1]).toBeGreaterThan(61);
    // What all presses share does not shrink with their number.
    expect(s.waitModel!.fixedDelayUncertaintyMs).toBeGreaterThan(0.4);
    expect(s.verdict).toContain(s.waitModel!.fixedDelayMs.toFixed(1));
  });

  it('of few and of none', () => {
    expect(summariseLatencies([], sixty)).toBeNull();
    const one = summariseLatencies(latencies([44.4]), sixty)!;
    expect(one).toMatchObject({ n: 1, medianMs: 44.4, sdMs: null, waitModel: null, medianIntervalMs: null });
    expect(one.verdict).toContain('44.4');
    expect(summariseLatencies(latencies([44, 50]), sixty)!.waitModel).toBeNull();
    expect(summariseLatencies(latencies([44, 50, 47]), sixty)!.waitModel).not.toBeNull();
  });
});

describe('verdict', () => {
  const fit: WaitModelFit = {
    n: 30,
    periodMs: 1000 / 60,
    model: 'one-refresh',
    jitterShape: 'none',
    fixedDelayMs: 61.23,
    fixedDelayUncertaintyMs: 0.4,
    intervalMs: [60.41, 62.02],
    jitterMs: 0.2,
    shapeJitterMs: 0.2,
    jitterIntervalMs: [0, 0.5],
    lag: 'fixed',
    jitterToleranceMs: 2,
    variableProbability: 0.01,
    twoEdgeBoundMs: [60, 62],
    probabilities: {},
    bic: {},
    laws: [],
    delayPosterior: { values: [61.23], weights: [1] },
  };
  const values = [61.5, 70, 77.4];

  it('fixed, behind a wait', () => {
    const sentence = verdictSentence(fit, values);
    expect(sentence).toMatch(/fixed/i);
    for (const part of ['61.2', '60.4', '62.0', '16.7']) expect(sentence).toContain(part);
  });

  it('fixed, with no wait', () => {
    const sentence = verdictSentence({ ...fit, model: 'no-wait' }, values);
    expect(sentence).toMatch(/fixed.*61\.2 ms/i);
    expect(sentence).not.toContain('16.7');
    expect(verdictSentence({ ...fit, model: 'no-wait', periodMs: null }, values)).toBe(sentence);
  });

  it('variable: the range, and the part that is the chain’s own', () => {
    const sentence = verdictSentence(
      { ...fit, lag: 'variable', model: 'jitter', jitterMs: 5.25 },
      [61.5, 104.2].concat(70),
    );
    expect(sentence).toMatch(/variable/i);
    for (const part of ['61.5', '104 ', '5.3']) expect(sentence).toContain(part);
    expect(sentence).not.toMatch(/^fixed/i);
  });

  it('undecided: the figure, and that more is not known', () => {
    for (const periodMs of [1000 / 60, null]) {
      const sentence = verdictSentence({ ...fit, lag: 'undecided', periodMs }, values);
      expect(sentence).toContain('61.2');
      expect(sentence).toMatch(/do not show/);
    }
  });

  it('too few, one, none', () => {
    expect(verdictSentence(null, [61.5, 70])).toMatch(/2 presses.*61\.5.*70\.0.*too few/);
    expect(verdictSentence(null, [61.5])).toMatch(/One press.*61\.5/);
    expect(verdictSentence(null, [])).toMatch(/No latency/);
    // Two values stay too few whatever a fit says.
    expect(verdictSentence(fit, [61.5, 70])).toMatch(/too few/);
  });
});
