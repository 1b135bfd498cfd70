/** The measuring core on light and times of any kind: a record of finite numbers or one sentence, never a crash. */
import fc from 'fast-check';
import { beforeAll, expect, it } from 'vitest';
import { AnalysisError, UsageError } from '../../src/errors.js';
import { measureSamples } from '../../src/measure.js';
import { toJsonText } from '../../src/record/files.js';
import { parseRecord } from '../../src/record/parseRecord.js';
import { type FilmedScene, filmScene } from '../filmedScene.js';

const films: FilmedScene[] = [];
beforeAll(async () => {
  films.push(
    await filmScene(61, { content: ['flash'] }),
    await filmScene(62, { content: ['flash'], display: ['tube'] }),
  );
});

type Light = (frame: number, old: number) => number;
const kinds: Readonly<Record<string, (a: number, b: number, n: number) => Light>> = {
  same: () => (_, old) => old,
  constant: (a) => () => a,
  'two levels by turns': (a, b) => (frame) => (frame % 2 === 0 ? a : b),
  'a step': (a, b, n) => (frame) => (frame < n ? a : b),
  'one frame': (a, b, n) => (frame) => (frame === n ? b : a),
  square: (a, b, n) => (frame) => (frame % (2 * n + 2) < n + 1 ? a : b),
  noise: (a, b, n) => (frame) =>
    ((Math.imul(frame + n, 0x9e3779b1) >>> 16) % (Math.abs(b - a) + 1)) + Math.min(a, b),
  ramp: (a, b) => (frame) => (a + frame * (b - a)) % 65_536,
  'old, one frame lost': (_, __, n) => (frame, old) => (frame === n ? 0 : old),
};
const level = fc.constantFrom(0, 1, 500, 20_000, 20_001, 50_000, 65_535);
const light = fc.tuple(fc.constantFrom(...Object.keys(kinds)), level, level, fc.nat(400));
const times = fc.tuple(
  fc.constantFrom('even', 'all alike', 'backwards', 'one huge gap', 'jitter', 'a pause', 'vast'),
  fc.nat(500),
);

function ticksOf(kind: string, k: number, ticks: Float64Array): Float64Array {
  if (kind === 'all alike') return ticks.map(() => 5);
  if (kind === 'backwards') return ticks.slice().reverse();
  if (kind === 'one huge gap') return ticks.map((t, i) => (i > k ? t + 1e12 : t));
  if (kind === 'a pause') return ticks.map((t, i) => (i > k ? t + 40_000 : t));
  if (kind === 'jitter') return ticks.map((t, i) => t + ((Math.imul(i + k, 0x9e3779b1) >>> 20) % 900));
  if (kind === 'vast') return ticks.map((t) => t * 1e15);
  return ticks;
}

it('never throws but an error with a sentence, and a record is one that can be read', () => {
  fc.assert(
    fc.property(
      fc.constantFrom(0, 1),
      light,
      light,
      times,
      fc.constantFrom(null, 240, 60, 4000),
      fc.constantFrom(null, 60, 1, 1000),
      fc.constantFrom<readonly [number, number]>([0, 500], [-1000, 10_000], [-1000, -999]),
      (k, led, screen, [timeKind, at], rateHz, refreshHz, windowMs) => {
        const film = films[k]!;
        const regions = film.samples.regions.map((r, i) => {
          const [kind, a, b, n] = i === 0 ? led : screen;
          const change = kinds[kind]!(a, b, n);
          const cells = r.rows * r.columns;
          return { ...r, light: r.light.map((old, j) => change(Math.floor(j / cells), old)) };
        });
        const ptsTicks = ticksOf(timeKind, at, film.times.ptsTicks);
        const recipe = {
          ...film.recipe,
          capture: { ...film.recipe.capture, rateHz, exposureFraction: null },
          display: { refreshHz },
          response: { level: 0.1, windowMs },
        };
        try {
          const { record } = measureSamples(
            { ...film.samples, regions },
            { ...film.times, ptsTicks },
            film.facts,
            recipe,
          );
          parseRecord(toJsonText(record), 'x.record.json');
        } catch (cause) {
          if (!(cause instanceof AnalysisError || cause instanceof UsageError)) throw cause;
          expect(cause.message).not.toMatch(/\bNaN\b|undefined|\[object/);
        }
      },
    ),
    { seed: 4711, numRuns: 150 },
  );
});
