import { beforeAll, describe, expect, it } from 'vitest';
import { AnalysisError, UsageError } from '../src/errors.js';
import { type Measurement, measureClip, measureSamples } from '../src/measure.js';
import type { ClipRecord } from '../src/record/record.js';
import { roundRecord } from '../src/record/roundRecord.js';
import type { Region } from '../src/region/region.js';
import type { ClipSamples } from '../src/samples/samples.js';
import type { SceneOptions } from '../src/simulate/sceneOptions.js';
import { type FilmedScene, filmScene } from './filmedScene.js';

/** RMS error of single latencies, camera frames; exposures of 0.9 to 1 and a stated readout allow 0.1 (method, 4). */
const RMS_LIMIT_FRAMES = 0.3;
/** A latency outside this many of its own standard uncertainties is wrong, not unlucky (5 presses a clip). */
const SDS = 4;
/** A busy machine takes its time. */
const HOOK_TIMEOUT_MS = 60_000;

const kinds: readonly (readonly [string, number, SceneOptions])[] = [
  ['flash', 901, { content: ['flash'] }],
  ['toggle', 902, { content: ['toggle'] }],
  ['sprite', 903, { content: ['sprite'] }],
  ['tube', 904, { content: ['flash'], display: ['tube'] }],
];

const filmed = new Map<string, FilmedScene>();
const measured = new Map<string, Measurement>();
let flash: FilmedScene;

function measure(film: FilmedScene): Measurement {
  return measureSamples(film.samples, film.times, film.facts, film.recipe);
}

function latenciesOf(record: ClipRecord): (number | null)[] {
  return record.presses.map((p) => p.responses[0]?.latencyMs ?? null);
}

function everyNumber(value: unknown, visit: (n: number) => void): void {
  if (typeof value === 'number') visit(value);
  else if (Array.isArray(value)) for (const v of value) everyNumber(v, visit);
  else if (typeof value === 'object' && value !== null)
    for (const v of Object.values(value)) everyNumber(v, visit);
}

beforeAll(async () => {
  for (const [name, seed, options] of kinds) {
    const film = await filmScene(seed, options);
    filmed.set(name, film);
    measured.set(name, measure(film));
  }
  flash = filmed.get('flash')!;
}, HOOK_TIMEOUT_MS);

describe('measuring simulated clips', () => {
  it.each(kinds)('%s (seed %d): every press, close to the truth', (name, seed) => {
    const { truthMs, periodMs, scene } = filmed.get(name)!;
    const { record } = measured.get(name)!;
    expect(record.presses, `seed ${seed}`).toHaveLength(scene.presses.count);
    expect(record.presses.every((p) => p.status === 'measured')).toBe(true);
    expect(record.unprompted).toEqual([]);
    let squares = 0;
    record.presses.forEach((press, i) => {
      const { latencyMs, uncertaintyMs, intervalMs } = press.responses[0]!;
      const error = latencyMs! - truthMs[i]!;
      squares += error * error;
      expect(Math.abs(error), `seed ${seed}, press ${i + 1}`).toBeLessThan(SDS * uncertaintyMs!);
      expect(intervalMs![0]).toBeLessThan(latencyMs!);
      expect(intervalMs![1]).toBeGreaterThan(latencyMs!);
    });
    const rms = Math.sqrt(squares / record.presses.length) / periodMs;
    expect(rms, `seed ${seed}`).toBeLessThan(RMS_LIMIT_FRAMES);
  });

  it.each(kinds)('%s: the summary counts what was measured, and holds the fixed delay', (name, seed) => {
    const { scene } = filmed.get(name)!;
    const { record } = measured.get(name)!;
    const summary = record.summary.top!;
    const values = latenciesOf(record).filter((v) => v !== null);
    expect(summary.n).toBe(values.length);
    expect(summary.minimumMs).toBe(Math.min(...values));
    expect(summary.maximumMs).toBe(Math.max(...values));
    expect(summary.displayFrameMs).toBeCloseTo(1000 / scene.screen.refreshHz, 3);
    // The region's own place on the screen and its response come on top of the chain's delay: at most one scan.
    const wait = summary.waitModel!;
    expect(wait.intervalMs[1], `seed ${seed}`).toBeGreaterThan(scene.latency.fixedDelayMs);
    expect(wait.intervalMs[0], `seed ${seed}`).toBeLessThan(scene.latency.fixedDelayMs + 1000 / 60 + 3);
    expect(record.fitness.class).not.toBe('unfit');
  });

  it.each(kinds)('%s: the record is finite and round', (name) => {
    const { record } = measured.get(name)!;
    const numbers: number[] = [];
    everyNumber(record, (n) => numbers.push(n));
    expect(numbers.length).toBeGreaterThan(100);
    expect(numbers.every(Number.isFinite)).toBe(true);
    const bytes = JSON.stringify(record);
    expect(JSON.stringify(roundRecord(record))).toBe(bytes);
    expect(bytes).not.toMatch(/NaN|Infinity|-0[,}\]]/);
    expect(JSON.parse(bytes)).toEqual(record);
  });

  it('gives the same bytes twice, and leaves samples, times and recipe as they were', () => {
    const tube = filmed.get('tube')!;
    const sums = () => [
      ...tube.samples.regions.map((r) => r.light.reduce((sum, v, i) => (sum + v * (1 + (i % 97))) % 1e9, 0)),
      tube.samples.frameChange.reduce((sum, v) => sum + v, 0),
      tube.times.ptsTicks.reduce((sum, v, i) => (sum + v * (1 + (i % 97))) % 1e9, 0),
      JSON.stringify(tube.recipe),
    ];
    const before = sums();
    expect(JSON.stringify(measure(tube).record)).toBe(JSON.stringify(measured.get('tube')!.record));
    expect(sums()).toEqual(before);
  });

  it('reads the clip itself to the same record as from its samples', async () => {
    const whole = await measureClip(flash.source, flash.recipe);
    expect(JSON.stringify(whole.record)).toBe(JSON.stringify(measured.get('flash')!.record));
  });
});

describe('what is said of the display', () => {
  it('is said once, whatever the number of its regions', () => {
    const [screen, ...rest] = [...flash.samples.regions].reverse();
    const below = { ...screen!, region: { ...screen!.region, name: 'below' } };
    // A refresh of the capture rate: pulses would look steady.
    const { record } = measureSamples(
      { ...flash.samples, regions: [...rest, screen!, below] },
      flash.times,
      flash.facts,
      {
        ...flash.recipe,
        regions: [...flash.recipe.regions, below.region],
        display: { refreshHz: flash.scene.camera.captureRateHz },
      },
    );
    const said = record.warnings.filter((w) => w.startsWith('The display is said to refresh'));
    expect(said).toHaveLength(1);
    expect(Object.keys(record.summary)).toHaveLength(2);
  });
});

describe('what must not matter', () => {
  it('the order of regions', () => {
    const turned = {
      ...flash,
      samples: { ...flash.samples, regions: [...flash.samples.regions].reverse() },
      recipe: { ...flash.recipe, regions: [...flash.recipe.regions].reverse() },
    };
    const { recipe: _, ...there } = measured.get('flash')!.record;
    const { recipe: __, ...back } = measure(turned).record;
    expect(back).toEqual(there);
  });

  it('when the clip begins: onsets move, latencies stay', () => {
    const cut = 37;
    const samples: ClipSamples = {
      frames: flash.samples.frames - cut,
      frameChange: flash.samples.frameChange.slice(cut),
      regions: flash.samples.regions.map((r) => ({
        ...r,
        light: r.light.slice(cut * r.columns * r.rows),
      })),
    };
    const times = { ...flash.times, ptsTicks: flash.times.ptsTicks.slice(cut) };
    const { record } = measured.get('flash')!;
    const later = measureSamples(samples, times, flash.facts, flash.recipe).record;
    expect(later.presses).toHaveLength(record.presses.length);
    const shiftS = (cut * flash.periodMs) / 1000;
    later.presses.forEach((press, i) => {
      const same = record.presses[i]!;
      const uncertaintyMs = same.responses[0]!.uncertaintyMs!;
      expect(Math.abs(press.ledOnsetS + shiftS - same.ledOnsetS) * 1000).toBeLessThan(uncertaintyMs);
      expect(Math.abs(press.responses[0]!.latencyMs! - same.responses[0]!.latencyMs!)).toBeLessThan(
        uncertaintyMs,
      );
    });
  });

  it('which of two instant lights is called the LED, but for the sign', async () => {
    const seed = 921;
    const film = await filmScene(seed, { content: ['flash'], display: ['oled'] }, (scene) => ({
      ...scene,
      screen: { ...scene.screen, direction: 'all-at-once' },
    }));
    const swap = (r: Region): Region => ({ ...r, role: r.role === 'led' ? 'screen' : 'led' });
    const swapped: FilmedScene = {
      ...film,
      samples: {
        ...film.samples,
        regions: film.samples.regions.map((r) => ({ ...r, region: swap(r.region) })),
      },
      recipe: {
        ...film.recipe,
        regions: film.recipe.regions.map(swap),
        response: { level: 0.1, windowMs: [-200, -1] },
      },
    };
    const there = measure(film).record;
    const back = measure(swapped).record;
    expect(back.presses).toHaveLength(there.presses.length);
    there.presses.forEach((press, i) => {
      const { latencyMs, uncertaintyMs } = press.responses[0]!;
      // The display's own light takes up to 0.2 ms to come, and the two roles time it at 10 % and at its middle.
      const tolerance = 2 * uncertaintyMs! + 0.2;
      expect(
        Math.abs(latencyMs! + back.presses[i]!.responses[0]!.latencyMs!),
        `seed ${seed}, press ${i + 1}`,
      ).toBeLessThan(tolerance);
      expect(latencyMs).toBeGreaterThan(20);
    });
  });

  it('how bright the picture is', () => {
    const dim = {
      ...flash,
      samples: {
        ...flash.samples,
        regions: flash.samples.regions.map((r) => ({ ...r, light: r.light.map((v) => Math.round(0.7 * v)) })),
      },
    };
    const record = measure(dim).record;
    latenciesOf(record).forEach((latencyMs, i) => {
      const same = measured.get('flash')!.record.presses[i]!.responses[0]!;
      expect(Math.abs(latencyMs! - same.latencyMs!)).toBeLessThan(same.uncertaintyMs!);
    });
  });
});

describe('a person’s decisions', () => {
  it('an excluded press stays visible and leaves the statistics', () => {
    const { record } = measured.get('flash')!;
    const chosen = record.presses[2]!;
    const decisions = [
      { pressAtS: chosen.ledOnsetS + 0.02, decision: 'exclude' as const, reason: 'two buttons' },
      { pressAtS: 0.01, decision: 'exclude' as const, reason: 'nothing there' },
    ];
    const without = measure({ ...flash, recipe: { ...flash.recipe, decisions } }).record;
    expect(without.presses).toHaveLength(record.presses.length);
    expect(without.presses[2]).toMatchObject({ status: 'excluded', reason: 'two buttons', index: 3 });
    expect(without.presses[2]!.responses[0]!.latencyMs).toBe(chosen.responses[0]!.latencyMs);
    expect(without.summary.top!.n).toBe(record.summary.top!.n - 1);
    const kept = latenciesOf(record).filter((_, i) => i !== 2);
    const mean = kept.reduce((sum: number, v) => sum + v!, 0) / kept.length;
    // Records are rounded at 0.1 microseconds.
    expect(without.summary.top!.meanMs).toBeCloseTo(mean, 3);
    // A decision that matches no press is said.
    const said = without.warnings.filter((w) => !record.warnings.includes(w));
    expect(said).toHaveLength(1);
    expect(said[0]).toMatch(/0\.01 s.*nothing there/);
  });

  it('an LED that lights late hides part of every latency, which is added', () => {
    const cue = { ...flash.recipe.cue, delayMs: 2.5, delayUncertaintyMs: 0.3 };
    const shifted = latenciesOf(measure({ ...flash, recipe: { ...flash.recipe, cue } }).record);
    latenciesOf(measured.get('flash')!.record).forEach((v, i) => {
      expect(shifted[i]).toBeCloseTo(v! + 2.5, 3);
    });
  });

  it('a stated rate scales every latency', () => {
    const capture = { ...flash.recipe.capture, rateHz: 480 };
    const { record } = measure({ ...flash, recipe: { ...flash.recipe, capture } });
    expect(record.timing).toMatchObject({ captureRateHz: 480, source: 'stated' });
    // Twice the rate: half of the time between any two onsets. Other decisions may shift by less than a frame.
    const first = measured.get('flash')!.record.presses;
    const spanS = first.at(-1)!.ledOnsetS - first[0]!.ledOnsetS;
    expect(record.presses.at(-1)!.ledOnsetS - record.presses[0]!.ledOnsetS).toBeCloseTo(spanS / 2, 3);
  });
});

describe('what cannot be measured', () => {
  it('a clip that does not say how fast it was filmed', async () => {
    const slow = { ...flash.facts, nominalRateHz: 30 };
    const ticks = flash.times.ptsTicks.map((t) => t * 8);
    const run = () => measureSamples(flash.samples, { ...flash.times, ptsTicks: ticks }, slow, flash.recipe);
    expect(run).toThrow(AnalysisError);
    try {
      run();
    } catch (error) {
      expect(error).toMatchObject({ code: 'rate-unknown', exitCode: 4 });
      expect((error as Error).message).toContain('--capture-rate');
    }
    const source = { ...flash.source, facts: slow };
    await expect(measureClip(source, { ...flash.recipe, regions: [] })).rejects.toMatchObject({
      code: 'rate-unknown',
    });
  });

  it('a handful of frames', () => {
    const samples = { ...flash.samples, frames: 7 };
    expect(() => measureSamples(samples, flash.times, flash.facts, flash.recipe)).toThrow(/only 7 frames/);
  });

  it('regions that cannot be told apart or lie outside', async () => {
    const [led, screen] = flash.recipe.regions;
    const run = (regions: readonly (typeof led)[]) =>
      measureClip(flash.source, { ...flash.recipe, regions: regions.map((r) => r!) });
    await expect(run([led, screen, screen])).rejects.toThrow(UsageError);
    await expect(run([led, { ...led!, name: 'second' }, screen])).rejects.toThrow(/role led/);
    await expect(run([led, { ...screen!, x: 1000 }])).rejects.toThrow(/outside/);
  });

  it('an LED region without an LED: no throw, but unfit, with the reason', () => {
    const [led, screen] = flash.samples.regions;
    const dark = { ...led!, light: led!.light.map((_, i) => 1000 + ((i * 7919) % 5)) };
    const { record } = measure({ ...flash, samples: { ...flash.samples, regions: [dark, screen!] } });
    expect(record.presses).toEqual([]);
    expect(record.summary).toEqual({});
    expect(record.fitness.class).toBe('unfit');
    expect(record.fitness.reasons.map((r) => r.code)).toContain('no-led');
  });
});
