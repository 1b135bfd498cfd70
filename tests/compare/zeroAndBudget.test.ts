import { describe, expect, it } from 'vitest';
import { compareRecords } from '../../src/compare/compareRecords.js';
import { moreForDifference } from '../../src/compare/morePresses.js';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { commonPart, drawLatencies, madeRecord } from './madeRecord.js';

const BY = { by: ['chain'], baseline: null } as const;
const random = seededRandom(12);
const chain = madeRecord('a.mp4', {
  labels: { chain: 'Direct' },
  regions: [{ latenciesMs: drawLatencies(random, 100, { delayMs: 40 }) }],
});
const zero = (meanMs: number, common = 0) =>
  madeRecord('two-leds.mp4', {
    labels: { check: 'Zero' },
    ...(common > 0 ? { common: [commonPart('row readout', common)] } : {}),
    regions: [{ latenciesMs: Array.from({ length: 16 }, () => meanMs + random.normal(0, 0.2)) }],
  });

describe('zero check', () => {
  it('passes at zero, fails half a millisecond off, and is no group', () => {
    const passed = compareRecords([chain, zero(0)], BY);
    expect(passed.zeroCheck.status).toBe('passed');
    expect(passed.zeroCheck.sentence).toMatch(/^Zero check passed: two-leds\.mp4: -?0\.\d\d ms/);
    expect(passed.groups.map((g) => g.name)).toEqual(['Direct']);
    expect(passed.clips[1]!.use).toBe('zero-check');
    const failed = compareRecords([chain, zero(0.5)], BY);
    expect(failed.zeroCheck.status).toBe('failed');
    expect(failed.zeroCheck.sentence).toContain('it should be zero');
  });
  it('what the clip itself calls uncertain is no failure', () => {
    expect(compareRecords([chain, zero(0.5, 0.6)], BY).zeroCheck.status).toBe('passed');
  });
  it('says that there is none', () => {
    expect(compareRecords([chain], BY).zeroCheck).toMatchObject({ status: 'missing', clips: [] });
  });
  it('a check without measured presses is missing, with what to try', () => {
    const empty = madeRecord('two-leds.mp4', {
      labels: { check: 'zero' },
      regions: [{ latenciesMs: [null, null] }],
    });
    const { zeroCheck } = compareRecords([chain, empty], BY);
    expect(zeroCheck.status).toBe('missing');
    expect(zeroCheck.sentence).toContain('--window -50:200');
  });
});

describe('budget', () => {
  const stages = [{ name: 'living-room panel', valueMs: 16.7, halfWidthMs: 2 }];
  it('adds delay, wait and stage as distributions (closed form of the sum)', () => {
    const { budget, groups } = compareRecords([chain], { ...BY, stages });
    const total = budget!.totals[0]!;
    const delayMs = groups[0]!.fixedDelayMs!;
    const frameMs = 1000 / 60;
    // U(0, R) + U(-2, 2) is a trapezoid: its 2.5 % quantile solves x^2 / (2 R 4) = 0.025 for x < 4 above the foot.
    const foot = delayMs + 16.7 - 2;
    const x = Math.sqrt(0.025 * 2 * frameMs * 4);
    const TOLERANCE_MS = 0.12; // Monte Carlo, and the delay's own uncertainty of 0.2 ms
    expect(Math.abs(total.bestMs - (foot + x))).toBeLessThan(TOLERANCE_MS);
    expect(Math.abs(total.typicalMs - (delayMs + 16.7 + frameMs / 2))).toBeLessThan(TOLERANCE_MS);
    expect(Math.abs(total.worstMs - (delayMs + 16.7 + frameMs + 2 - x))).toBeLessThan(TOLERANCE_MS);
    expect(total.worstDisplayFrames!).toBeCloseTo(total.worstMs / frameMs, 4);
    expect(total.parts.map((p) => p.kind)).toEqual(['fixed-delay', 'wait', 'stage']);
    expect(budget!.stages).toEqual(stages);
  });
  it('a stage can be taken away: without the bench display, in the living room', () => {
    const [plain] = compareRecords([chain], { ...BY, stages }).budget!.totals;
    const swapped = [...stages, { name: 'bench display', valueMs: -10, halfWidthMs: 0 }];
    const [less] = compareRecords([chain], { ...BY, stages: swapped }).budget!.totals;
    expect(less!.typicalMs - plain!.typicalMs).toBeCloseTo(-10, 1);
  });
  it('without a refresh the presses themselves are the distribution', () => {
    const latenciesMs = Array.from({ length: 101 }, (_, i) => 40 + i / 10);
    const unknown = madeRecord('a.mp4', {
      labels: { chain: 'Direct' },
      refreshHz: null,
      regions: [{ latenciesMs }],
    });
    const [total] = compareRecords([unknown], { ...BY, stages: [{ name: 'x', valueMs: 10, halfWidthMs: 0 }] })
      .budget!.totals;
    expect(total!.bestMs).toBeCloseTo(50.2, 0);
    expect(total!.worstMs).toBeCloseTo(59.8, 0);
    expect(total!.bestDisplayFrames).toBeNull();
  });
  it('none without stages; a half width below zero is refused', () => {
    expect(compareRecords([chain], BY).budget).toBeNull();
    expect(() =>
      compareRecords([chain], { ...BY, stages: [{ name: 'x', valueMs: 1, halfWidthMs: -1 }] }),
    ).toThrow('stage x');
  });
});

describe('more presses', () => {
  const open = {
    n: 30,
    differenceMs: 0,
    uncertaintyMs: 0.6,
    floorMs: 0,
    marginMs: 1,
    claims: 1,
    periodMs: 1000 / 60,
    spreadMs: 0.3,
  };
  it('grow with the uncertainty and with the number of claims, and end at the floor', () => {
    const few = moreForDifference(open)!;
    expect(few).toBeGreaterThan(5);
    expect(moreForDifference({ ...open, uncertaintyMs: 1 })!).toBeGreaterThan(few);
    expect(moreForDifference({ ...open, claims: 10 })!).toBeGreaterThan(few);
    expect(moreForDifference({ ...open, floorMs: 0.5 })).toBeNull();
    // Soft edges and pairs take more: their uncertainty falls with the root alone.
    expect(moreForDifference({ ...open, spreadMs: 2 })!).toBeGreaterThan(few);
    expect(moreForDifference({ ...open, periodMs: null })!).toBeGreaterThan(few);
  });
});
