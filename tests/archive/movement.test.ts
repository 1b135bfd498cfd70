import { beforeAll, describe, expect, it } from 'vitest';
import { movementOf } from '../../src/archive/movement.js';
import { recipeChanges } from '../../src/archive/recipeChanges.js';
import { measureSamples } from '../../src/measure.js';
import type { Recipe } from '../../src/record/recipe.js';
import type { ClipRecord, PressRecord } from '../../src/record/record.js';
import { filmScene } from '../filmedScene.js';

let record: ClipRecord;
let recipe: Recipe;
beforeAll(async () => {
  const filmed = await filmScene(7, { display: ['panel'], content: ['flash'] });
  recipe = filmed.recipe;
  record = measureSamples(filmed.samples, filmed.times, filmed.facts, recipe).record;
  expect(record.presses.filter((p) => p.status === 'measured').length).toBeGreaterThan(2);
});

/** The record with one press changed. */
function withPress(index: number, change: (press: PressRecord) => PressRecord): ClipRecord {
  return { ...record, presses: record.presses.map((p) => (p.index === index ? change(p) : p)) };
}

/** The record with the latency of the first measured press moved. */
function withLatency(byUncertainties: number): { moved: ClipRecord; press: number; byMs: number } {
  const { index, responses } = record.presses.find((p) => p.status === 'measured')!;
  const byMs = byUncertainties * responses[0]!.uncertaintyMs!;
  const moved = withPress(index, (p) => ({
    ...p,
    responses: p.responses.map((r) => ({ ...r, latencyMs: r.latencyMs! + byMs })),
  }));
  return { moved, press: index, byMs };
}

describe('movementOf', () => {
  it('finds nothing in the same record, and compares every press and summary', () => {
    const movement = movementOf(record, structuredClone(record), 0);
    const answered = record.presses.flatMap((p) => p.responses).filter((r) => r.latencyMs !== undefined);
    expect(movement).toMatchObject({ moved: [], findings: [], drifted: false });
    expect(movement.compared).toBeGreaterThanOrEqual(record.presses.length + 2 * answered.length + 1);
  });

  it.each([-3, -0.2, 0.2, 3])('says how far a latency moved: %d of its uncertainties', (by) => {
    const { moved, press, byMs } = withLatency(by);
    const movement = movementOf(record, moved, 0.1);
    expect(movement.moved).toHaveLength(1);
    const [number] = movement.moved;
    expect(number).toMatchObject({ what: 'latency', region: 'top', press, beyond: true });
    expect(number!.newMs - number!.oldMs).toBeCloseTo(byMs, 9);
    expect(number!.differenceMs).toBeCloseTo(byMs, 3);
    expect(number!.inUncertainties).toBeCloseTo(by, 2);
    expect(movement.drifted).toBe(true);
  });

  it('lets a number move within the tolerance, and still tells', () => {
    const { moved } = withLatency(0.2);
    const movement = movementOf(record, moved, 0.3);
    expect(movement).toMatchObject({ drifted: false, moved: [{ what: 'latency', beyond: false }] });
  });

  it('does not call a rounding step a drift, even with no tolerance', () => {
    const { index } = record.presses[0]!;
    const step = withPress(index, (p) => ({ ...p, ledOnsetS: p.ledOnsetS + 5e-7 }));
    const more = withPress(index, (p) => ({ ...p, ledOnsetS: p.ledOnsetS + 2e-6 }));
    expect(movementOf(record, step, 0)).toMatchObject({ drifted: false, moved: [{ differenceMs: 0.0005 }] });
    expect(movementOf(record, more, 0).drifted).toBe(true);
  });

  it('puts a number of the whole clip before those of presses', () => {
    const { moved } = withLatency(5);
    const summary = Object.fromEntries(
      Object.entries(moved.summary).map(([region, s]) => [region, { ...s, medianMs: s.medianMs + 4 }]),
    );
    const movement = movementOf(record, { ...moved, summary }, 0.1);
    expect(movement.moved.map((n) => n.what)).toEqual(['median', 'latency']);
  });

  it.each<[string, (r: ClipRecord) => ClipRecord, RegExp]>([
    ['a press that is gone', (r) => ({ ...r, presses: r.presses.slice(1) }), /^Press 1 at .* is gone/],
    ['another fitness', (r) => ({ ...r, fitness: { class: 'unfit', reasons: [] } }), /is unfit now/],
    ['no summary', (r) => ({ ...r, summary: {} }), /^top: has no latencies any more/],
    [
      'a press that was excluded',
      (r) => ({ ...r, presses: r.presses.map((p) => ({ ...p, status: 'excluded' })) }),
      /^Press 1 was .*excluded now/,
    ],
  ])('finds %s', (_, change, sentence) => {
    const movement = movementOf(record, change(record), 1000);
    expect(movement.drifted).toBe(true);
    expect(movement.findings.some((f) => sentence.test(f))).toBe(true);
  });

  it('finds a new press, by its time and not by its number', () => {
    const fewer = { ...record, presses: record.presses.slice(1).map((p, i) => ({ ...p, index: i + 1 })) };
    const movement = movementOf(fewer, record, 1000);
    expect(movement.findings).toEqual([expect.stringMatching(/^A press at .* is new/)]);
  });
});

describe('recipeChanges', () => {
  it('finds none in a recipe and its completed copy', () => {
    expect(recipeChanges(recipe, structuredClone(recipe))).toEqual([]);
  });
  it('takes what the file leaves open for no change of regions', () => {
    expect(recipeChanges(recipe, { ...recipe, regions: [] })).toEqual([]);
    expect(recipeChanges({ ...recipe, labels: { chain: 'Birch', mode: '240p' } }, recipe)).toEqual([]);
  });
  it.each<[string, Partial<Recipe>, string[]]>([
    ['a rate', { display: { refreshHz: 59.94 } }, ['display.refreshHz']],
    ['a label', { labels: { chain: 'Cedar' } }, ['labels.chain']],
    ['a level', { response: { level: 0.5, windowMs: [0, 500] } }, ['response.level']],
    ['a window', { response: { level: 0.1, windowMs: [0, 400] } }, ['response.windowMs']],
    ['a cue', { cue: { edge: 'release', delayMs: 0, delayUncertaintyMs: 0 } }, ['cue.edge']],
    ['a decision', { decisions: [{ pressAtS: 1, decision: 'exclude', reason: 'two' }] }, ['decisions']],
  ])('names %s', (_, change, keys) => {
    expect(recipeChanges(recipe, { ...recipe, ...change })).toEqual(keys);
  });
  it('names a scan that came or went', () => {
    const scanned = { ...recipe, display: { ...recipe.display, scan: { topPx: 1, bottomPx: 90 } } };
    expect(recipeChanges(recipe, scanned)).toEqual(['display.scan']);
    expect(recipeChanges(scanned, recipe)).toEqual(['display.scan']);
  });
  it('names regions that moved, came or went', () => {
    const [led, top] = recipe.regions;
    expect(recipeChanges(recipe, { ...recipe, regions: [led!, { ...top!, x: top!.x + 1 }] })).toEqual([
      'regions.top',
    ]);
    expect(recipeChanges(recipe, { ...recipe, regions: [led!, { ...top!, name: 'low' }] })).toEqual([
      'regions.low',
      'regions.top',
    ]);
  });
});
