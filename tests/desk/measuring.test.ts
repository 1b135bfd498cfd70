/** What the desk measures is what `lagreel measure` measures; a cancelled job leaves nothing. */
import { readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from '../../src/cli/main.js';
import type {
  ClipAnswer,
  CompareAnswer,
  DeskFault,
  FindResult,
  FolderAnswer,
  JobAnswer,
  MeasureResult,
  TracesAnswer,
} from '../../src/desk/protocol.js';
import type { ClipRecord } from '../../src/record/record.js';
import { CACHE_HOME, folderOf, type TestDesk, testDesk } from './deskClient.js';

const NAME = 'cedar-sprite';
let desk: TestDesk;
let id: string;
let at: string;
const cacheBefore = process.env.XDG_CACHE_HOME;
beforeAll(async () => {
  process.env.XDG_CACHE_HOME = CACHE_HOME;
  desk = await testDesk(folderOf(`${NAME}.mp4`, `${NAME}.recipe.json`));
  id = await desk.idOf(`${NAME}.mp4`);
  at = `/api/clips/${id}`;
});
afterAll(async () => {
  if (cacheBefore === undefined) delete process.env.XDG_CACHE_HOME;
  else process.env.XDG_CACHE_HOME = cacheBefore;
  await desk?.close();
});

const clip = async () => (await desk.get(at)).json<ClipAnswer>();
const measure = async (body: object) => {
  const ended = await desk.job(await desk.send('POST', `${at}/measure`, body));
  expect(ended).toMatchObject({ state: 'done', kind: 'measure', clip: id });
  return ended.result as MeasureResult;
};
const floats = (text: string) => {
  const bytes = Buffer.from(text, 'base64');
  return new Float64Array(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength));
};

describe('a desk on one clip', () => {
  it('has no traces, strips or report before something was sampled', async () => {
    for (const path of ['/traces', '/strip/1/screen']) expect((await desk.get(at + path)).status).toBe(404);
    expect((await desk.send('POST', `${at}/report`, {})).status).toBe(404);
  });

  it('measures without writing, then with; then the command line gives the same record', async () => {
    const before = readdirSync(desk.folder);
    const looked = await measure({ save: false });
    expect(readdirSync(desk.folder)).toEqual(before);
    const saved = await measure({ save: true });
    expect(saved.record).toEqual(looked.record);
    const stored = JSON.parse(readFileSync(join(desk.folder, `${NAME}.record.json`), 'utf8'));
    expect(stored).toEqual(saved.record);
    expect(readdirSync(desk.folder)).toEqual(
      ['mp4', 'presses.csv', 'recipe.json', 'record.json', 'regions.jpg', 'report.html'].map(
        (s) => `${NAME}.${s}`,
      ),
    );
    let out = '';
    const terminal = {
      out: (text: string) => {
        out += text;
      },
      err: () => undefined,
      colour: false,
      width: 100,
      live: false,
    };
    expect(await run(['measure', join(desk.folder, `${NAME}.mp4`), '--json'], terminal)).toBe(0);
    expect(JSON.parse(out)).toEqual(saved.record);
    expect((await clip()).record).toEqual(saved.record);
  });

  it('an excluded press follows at once, is written nowhere but in the recipe, and comes back', async () => {
    const { recipe, recipeTag, record } = await clip();
    const press = record!.presses.find((p) => p.status === 'measured')!;
    const decided = {
      ...recipe!,
      decisions: [{ pressAtS: press.ledOnsetS, decision: 'exclude' as const, reason: 'two buttons' }],
    };
    const put = await desk.send('PUT', `${at}/recipe`, { recipe: decided, ifTag: recipeTag });
    expect(put.status).toBe(200);
    const now = await measure({ save: false });
    expect(now.record.presses.find((p) => p.index === press.index)).toMatchObject({
      status: 'excluded',
      reason: expect.stringContaining('two buttons'),
    });
    const counted = (r: ClipRecord) => Object.values(r.summary)[0]!.n;
    expect(counted(now.record)).toBe(counted(record!) - 1);
    expect((await clip()).outdated).toBe(true);
    const list = (await desk.get('/api/clips')).json<FolderAnswer>();
    expect(list.clips[0]).toMatchObject({
      outdated: true,
      record: true,
      recipe: true,
      fitness: record!.fitness.class,
    });
    // The same by the command line: from the recipe that the desk wrote.
    const kept = (await measure({ save: true })).record;
    expect(kept).toEqual(now.record);
    expect((await clip()).outdated).toBe(false);
    const { recipeTag: tag } = await clip();
    await desk.send('PUT', `${at}/recipe`, { recipe: { ...decided, decisions: [] }, ifTag: tag });
    expect((await measure({ save: true })).record).toEqual(record);
  });

  it('with save, a recipe in the request is saved first, with its tag', async () => {
    const { recipe, recipeTag } = await clip();
    const asked = { recipe: { ...recipe!, labels: { chain: 'Cedar' } }, save: true };
    expect((await desk.send('POST', `${at}/measure`, { ...asked, ifTag: '0'.repeat(64) })).status).toBe(409);
    expect((await desk.send('POST', `${at}/measure`, asked)).status).toBe(400);
    const result = await measure({ ...asked, ifTag: recipeTag });
    expect(result.record.recipe.labels).toEqual({ chain: 'Cedar' });
    expect(result.recipeTag).toBe((await clip()).recipeTag);
  });

  it('the session table lies over the labels, as at the command line', async () => {
    writeFileSync(join(desk.folder, 'session.csv'), `file,chain\n${NAME}.mp4,Birch\n`);
    const result = await measure({ save: false });
    expect(result.record.recipe.labels).toEqual({ chain: 'Birch' });
    expect(await clip()).toMatchObject({ outdated: true, sessionLabels: { chain: 'Birch' } });
    expect((await desk.get('/api/clips')).json<FolderAnswer>().clips[0]!.labels).toEqual({ chain: 'Birch' });
  });

  it('times of frames and traces are those of the record', async () => {
    const answer = await clip();
    const { record } = answer;
    const traces = (await desk.get(`${at}/traces`)).json<TracesAnswer>();
    const allS = floats(answer.capturedAtS);
    const usedS = floats(traces.capturedAtS);
    expect(allS.length).toBe(answer.facts.frames);
    expect(usedS.length).toBe(record!.clip.frames);
    expect(traces.frames).toBeNull();
    expect(usedS).toEqual(allS);
    expect(answer.facts.durationS).toBeCloseTo(record!.clip.durationS, 5);
    expect(answer.facts.captureRateHz).toBe(record!.timing.captureRateHz);
    const led = traces.regions.find((r) => r.role === 'led')!;
    const bytes = Buffer.from(led.signal!, 'base64');
    const signal = new Float32Array(
      bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength),
    );
    // The LED's signal passes half of its change within a camera frame of each onset of the record.
    const periodS = 1 / record!.timing.captureRateHz;
    for (const press of record!.presses) {
      const k = usedS.findIndex((t) => t + led.middleS > press.ledOnsetS + periodS);
      expect(signal[k]!).toBeGreaterThan(0.5);
      expect(signal[k - 3]!).toBeLessThan(0.5);
    }
  });

  it('strips and report are drawn by the recipe on disk', async () => {
    const { record } = await clip();
    const region = record!.recipe.regions.find((r) => r.role === 'screen')!.name;
    const strip = await desk.get(`${at}/strip/1/${encodeURIComponent(region)}`);
    expect([strip.status, strip.headers['content-type']]).toEqual([200, 'image/svg+xml']);
    const svg = strip.bytes.toString();
    expect(svg).toMatch(/^<svg .*<\/svg>$/s);
    for (const part of ['Evidence for press 1<', '<style>', '<image ']) expect(svg).toContain(part);
    expect((await desk.get(`${at}/strip/1/nowhere`)).status).toBe(404);
    expect((await desk.get(`${at}/strip/999/${region}`)).status).toBe(404);
    const { address } = (await desk.send('POST', `${at}/report`, {})).json<{ readonly address: string }>();
    expect(address).toMatch(/^\/report\/[0-9a-f]{32}$/);
    // A tab of its own sends no secret.
    const report = await fetch(`http://127.0.0.1:${desk.port}${address}`);
    expect(report.headers.get('content-security-policy')).toContain('sandbox');
    expect(await report.text()).toContain('latency report');
  });

  it('compares by label, in the words of the command line', async () => {
    const answer = await desk.send('POST', '/api/compare', { by: ['chain'], ids: [id] });
    expect(answer.status).toBe(200);
    const { comparison, text } = answer.json<CompareAnswer>();
    expect(comparison.groups.map((g) => g.labels)).toEqual([{ chain: 'Birch' }]);
    expect(text).toContain('What this rests on');
    for (const body of [
      {},
      { by: [], ids: [id] },
      { by: ['chain'], ids: [] },
      { by: ['chain'], ids: [id], marginMs: -1 },
    ])
      expect((await desk.send('POST', '/api/compare', body)).status).toBe(400);
    expect((await desk.send('POST', '/api/compare', { by: ['chain'], ids: ['../x'] })).status).toBe(404);
  });

  it('what does not compare is refused in words of the page, and compared when allowed', async () => {
    const record = JSON.parse(readFileSync(join(desk.folder, `${NAME}.record.json`), 'utf8'));
    const other = {
      ...record.recipe,
      labels: { chain: 'Alder' },
      response: { level: 0.5, windowMs: [0, 500] },
    };
    const named = { file: 'other.mp4', sha256: 'f'.repeat(64) };
    writeFileSync(join(desk.folder, 'other.mp4'), 'never read');
    writeFileSync(
      join(desk.folder, 'other.record.json'),
      JSON.stringify({
        ...record,
        clip: { ...record.clip, ...named },
        recipe: { ...other, clip: { ...other.clip, ...named } },
      }),
    );
    const asked = { by: ['chain'], ids: [id, await desk.idOf('other.mp4')], baseline: { chain: 'Birch' } };
    const refused = await desk.send('POST', '/api/compare', asked);
    expect(refused.status).toBe(422);
    const { error, allowances } = refused.json<DeskFault>();
    expect(error).toMatch(/^This does not compare: .*different response levels.*all the same\.$/);
    expect(error).not.toContain('--');
    expect(allowances).toEqual(['level']);
    expect((await desk.send('POST', '/api/compare', { ...asked, allow: ['all'] })).status).toBe(400);
    const allowed = await desk.send('POST', '/api/compare', { ...asked, allow: allowances });
    expect(allowed.json<CompareAnswer>().comparison.comparisons[0]!.allowed.join()).toContain(
      'response levels',
    );
    for (const name of ['other.mp4', 'other.record.json']) rmSync(join(desk.folder, name));
  });

  it('finds regions as measure would', async () => {
    const ended = await desk.job(await desk.send('POST', `${at}/find`, {}));
    const { regions, edge } = ended.result as FindResult;
    expect(regions.map((r) => r.role).sort()).toEqual(expect.arrayContaining(['led', 'screen']));
    expect(edge).toBe('press');
  });

  it('an unknown job, or a bad recipe, is refused in words', async () => {
    expect((await desk.get('/api/jobs/nothing')).status).toBe(404);
    const bad = await desk.send('POST', `${at}/measure`, {
      save: false,
      recipe: { format: 'lagreel-recipe', version: 1, regoins: [] },
    });
    expect(bad.status).toBe(422);
    expect(bad.json().error).toContain('unknown key "regoins"');
    const { recipe } = await clip();
    const outside = { ...recipe!.regions[0]!, x: 60_000 };
    const ended = await desk.job(
      await desk.send('POST', `${at}/measure`, {
        save: false,
        recipe: { ...recipe, regions: [outside, ...recipe!.regions.slice(1)] },
      }),
    );
    expect(ended).toMatchObject({ state: 'failed', error: expect.stringContaining(outside.name) });
  });
});

/** Processes whose parent is `pid`, by the kernel's own table. */
function childrenOf(pid: number): string[] {
  return readdirSync('/proc')
    .filter((name) => /^\d+$/.test(name))
    .filter((name) => {
      try {
        return readFileSync(`/proc/${name}/stat`, 'utf8').split(') ')[1]!.split(' ')[1] === String(pid);
      } catch {
        return false;
      }
    });
}

describe('while a clip is measured', () => {
  let other: TestDesk;
  let path: string;
  beforeAll(async () => {
    other = await testDesk(folderOf('alder-flat.mp4', 'alder-flat.recipe.json'));
    path = `/api/clips/${await other.idOf('alder-flat.mp4')}`;
  });
  afterAll(() => other?.close());
  const start = async (body: object) =>
    (await other.send('POST', `${path}/measure`, body)).json<{ readonly job: string }>().job;
  const look = async (job: string) => (await other.get(`/api/jobs/${job}`)).json<JobAnswer>();

  it.skipIf(process.platform !== 'linux')('a cancelled job ends its decoder and leaves nothing', async () => {
    const before = readdirSync(other.folder);
    const job = await start({ save: true });
    while ((await look(job)).stage === '') await new Promise((go) => setTimeout(go, 5));
    expect(await look(job)).toMatchObject({ state: 'running', stage: 'measuring' });
    const cancelled = (await other.send('DELETE', `/api/jobs/${job}`)).json<JobAnswer>();
    expect(cancelled).toMatchObject({ state: 'cancelled', job });
    expect(cancelled.result).toBeUndefined();
    const bench = other.benchPid();
    if (bench !== null) expect(childrenOf(bench)).toEqual([]);
    expect(readdirSync(other.folder)).toEqual(before);
    expect((await other.send('DELETE', `/api/jobs/${job}`)).json<JobAnswer>().state).toBe('cancelled');
  });

  it('the server answers, and a calculation is cut off at once', async () => {
    const recipe = JSON.parse(readFileSync(join(other.folder, 'alder-flat.recipe.json'), 'utf8'));
    const asked = (refreshHz: number) => ({ save: false, recipe: { ...recipe, display: { refreshHz } } });
    // The screen many times over: seconds of calculation, so that a cancel comes in its midst on any machine.
    const screen = recipe.regions.find((r: { role: string }) => r.role === 'screen');
    const copies = Array.from({ length: 8 }, (_, i) => ({
      ...screen,
      name: `copy ${i + 1}`,
      x: screen.x - i,
    }));
    const long = { ...recipe, regions: [...recipe.regions, ...copies] };
    await other.job(await other.send('POST', `${path}/measure`, { save: false, recipe: long }));
    await other.job(await other.send('POST', `${path}/measure`, { save: false }));
    const bench = other.benchPid();
    // All samples are there now: what follows is calculation alone, which hears nothing.
    const job = await start(asked(59.9));
    let answers = 0;
    let slowestMs = 0;
    for (;;) {
      const beganMs = performance.now();
      if ((await look(job)).state !== 'running') break;
      slowestMs = Math.max(slowestMs, performance.now() - beganMs);
      answers++;
    }
    console.log(`${answers} answers during a calculation, the slowest after ${slowestMs.toFixed(0)} ms`);
    expect(answers).toBeGreaterThan(10);
    const second = await start({ save: false, recipe: { ...long, display: { refreshHz: 60.1 } } });
    await new Promise((go) => setTimeout(go, 300));
    const beganMs = performance.now();
    const cancelled = (await other.send('DELETE', `/api/jobs/${second}`)).json<JobAnswer>();
    console.log(`cancelled after ${(performance.now() - beganMs).toFixed(0)} ms`);
    expect(cancelled.state).toBe('cancelled');
    expect(other.benchPid()).not.toBe(bench);
    // And the next one is measured as if nothing had been.
    const after = await other.job(await other.send('POST', `${path}/measure`, asked(60)));
    const { record } = after.result as MeasureResult;
    const file = join(other.folder, 'alder-flat.mp4');
    let out = '';
    const terminal = {
      out: (t: string) => (out += t),
      err: () => undefined,
      colour: false,
      width: 100,
      live: false,
    };
    expect(await run(['measure', file, '--json'], terminal)).toBe(0);
    expect(record).toEqual(JSON.parse(out));
  });

  it('a workbench that dies is started again, and what it was asked is done', async () => {
    const recipe = JSON.parse(readFileSync(join(other.folder, 'alder-flat.recipe.json'), 'utf8'));
    const job = await start({ save: false, recipe: { ...recipe, display: { refreshHz: 60.2 } } });
    const bench = other.benchPid()!;
    process.kill(bench, 'SIGKILL');
    while ((await look(job)).state === 'running') await new Promise((go) => setTimeout(go, 20));
    expect((await look(job)).state).toBe('done');
    expect(other.benchPid()).not.toBe(bench);
  });
});
