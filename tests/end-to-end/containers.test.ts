/** Containers of real phones: the true rate is used or asked for, the times are right, and inspect says what is so. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { inspectView } from '../../src/cli/inspectCommand.js';
import { run } from '../../src/cli/main.js';
import type { Terminal } from '../../src/cli/terminal.js';
import { AnalysisError } from '../../src/errors.js';
import { inspectFile, measureClip, openClip } from '../../src/node.js';
import { emptyRecipe } from '../../src/record/parseRecipe.js';
import type { Recipe } from '../../src/record/recipe.js';
import { renderInspect } from '../../src/report/inspectText.js';
import {
  CODEC_CASES,
  type ContainerCase,
  FILE_CASES,
  FRAME_CASES,
  FRAMES,
  PRESSES,
  RATE_CASES,
  REFUSED_CASES,
} from './containersClips.js';
import { captures, encodePictures, evenTimes, LED, SCREEN, TRUE_LATENCY_MS } from './containersScene.js';

const folder = mkdtempSync(join(tmpdir(), 'lagreel-containers-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const base = join(folder, 'base.mp4');
let made = 0;

beforeAll(async () => {
  const film = { capturedAtS: evenTimes(240, FRAMES), periodS: 1 / 240, presses: PRESSES };
  await encodePictures(base, 240, captures(film));
});

function listener() {
  const said = { out: '', err: '' };
  const terminal: Terminal = {
    out: (text) => {
      said.out += text;
    },
    err: (text) => {
      said.err += text;
    },
    colour: false,
    width: 100,
    live: false,
  };
  return { said, terminal };
}

const flat = (text: string) => text.replace(/\s+/g, ' ');

async function check(c: ContainerCase): Promise<void> {
  const path = join(folder, `case-${++made}.${c.ending ?? 'mp4'}`);
  await c.make(path, base);
  const upright = c.upright ?? ((rect) => rect);
  const adjustRecipe = (recipe: Recipe): Recipe => ({
    ...recipe,
    regions: [
      { name: 'led', role: 'led', ...upright(LED) },
      { name: 'top', role: 'screen', ...upright(SCREEN) },
    ],
    capture: { ...recipe.capture, rateHz: c.statedHz ?? null },
  });
  const inspection = await inspectFile(path, { adjustRecipe });

  const [code, words] = c.remark;
  const codes = inspection.remarks.map((remark) => remark.code);
  expect(codes).toContain(code);
  const sentence = inspection.remarks.find((remark) => remark.code === code)!.text;
  expect(sentence).toMatch(words);
  const text = flat(renderInspect(inspectView(inspection), { width: 100, colour: false }));
  expect(text).toContain(flat(sentence));
  expect(new Set(codes).size).toBe(codes.length);
  if (c.warns) {
    expect([...inspection.warnings, ...inspection.fitness.reasons.map((r) => r.text)].join('\n')).toMatch(
      c.warns,
    );
  }

  const source = await openClip(path);
  const { file, sha256, bytes } = source.facts;
  const recipe = adjustRecipe(emptyRecipe({ file, sha256, bytes }));
  if (c.rateHz === null) {
    expect(inspection).toMatchObject({ timing: null, fitness: { class: 'unfit' }, presses: 0 });
    const refusal = await measureClip(source, recipe).catch((error: unknown) => error);
    expect(refusal).toBeInstanceOf(AnalysisError);
    expect(refusal).toMatchObject({ code: 'rate-unknown', exitCode: 4 });
    expect((refusal as Error).message).toMatch(/--capture-rate/);
    return;
  }
  expect(inspection.timing!.captureRateHz / c.rateHz).toBeCloseTo(1, 3);
  const { record } = await measureClip(source, recipe);
  const latencies = record.presses.flatMap((press) => press.responses.flatMap((r) => r.latencyMs ?? []));
  expect(latencies.length).toBe(c.presses ?? PRESSES.length);
  const reasons = record.presses.map((press) => press.reason ?? '').filter((reason) => reason !== '');
  expect(reasons.every((reason) => c.excludes?.test(reason) ?? false)).toBe(true);
  latencies.sort((a, b) => a - b);
  const middleMs = latencies[latencies.length >> 1]!;
  expect(Math.abs(middleMs - TRUE_LATENCY_MS)).toBeLessThan(c.withinMs ?? 1.2);
}

describe('the rate', () => {
  it.each(RATE_CASES.map((c) => [c.name, c] as const))('%s', (_, c) => check(c));

  it('stated against nature is refused, with the option named', async () => {
    const { said, terminal } = listener();
    const regions = ['--region', 'led=led:16,48,20,20', '--region', 'top=screen:80,24,64,72'];
    const args = ['inspect', base, '--no-recipe', ...regions, '--capture-rate', '300'];
    expect(await run(args, terminal)).toBe(2);
    expect(said.err).toMatch(/300 fps does not fit this clip: .*240 fps.*--capture-rate/);
  });
});

describe('frames and their times', () => {
  it.each(FRAME_CASES.map((c) => [c.name, c] as const))('%s', (_, c) => check(c));
});

describe('file and picture', () => {
  it.each(FILE_CASES.map((c) => [c.name, c] as const))('%s', (_, c) => check(c));
});

describe('codecs', () => {
  it.each(CODEC_CASES.map((c) => [c.name, c] as const))('%s', (_, c) => check(c));
});

describe('what cannot be read', () => {
  it.each(REFUSED_CASES.map((c) => [c.name, c] as const))('%s', async (_, c) => {
    const path = join(folder, `refused-${++made}.${c.ending}`);
    await c.make(path, base);
    const { said, terminal } = listener();
    expect(await run(['inspect', path, '--json'], terminal)).toBe(3);
    expect(said.out).toBe('');
    expect(said.err).toMatch(c.says);
    expect(said.err.trim().split('\n')).toHaveLength(1);
  });
});

it('inspect --json on the command line carries the same sentences', async () => {
  const { said, terminal } = listener();
  const regions = ['--region', 'led=led:16,48,20,20', '--region', 'top=screen:80,24,64,72'];
  expect(await run(['inspect', base, '--no-recipe', ...regions, '--json', '--quiet'], terminal)).toBe(0);
  const { remarks } = JSON.parse(said.out) as { remarks: { code: string; text: string }[] };
  expect(remarks.map((r) => r.code)).toContain('real-time');
});
