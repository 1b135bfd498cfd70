/** The session: saves what was decided, measures when numbers must follow, and never overwrites in silence. */
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { RefusedError } from '../../src/desk/page/session/api.js';
import { ClipSession, type SessionApi } from '../../src/desk/page/session/clipSession.js';
import type { ClipAnswer } from '../../src/desk/protocol.js';
import type { Recipe } from '../../src/record/recipe.js';
import { normalRecord } from '../report/fixtures.js';

const record = normalRecord();
const NO_TRACES = { capturedAtS: '', frames: null, regions: [] };

/** A server of one clip with one recipe file. */
function server(first: Recipe | null) {
  const disk = {
    recipe: first,
    version: 0,
    measured: [] as (Recipe | null)[],
    refuse: null as Error | null,
    written: 0,
    cancelled: [] as string[],
  };
  let saving = false;
  const tag = (): string | null => (disk.recipe === null ? null : `tag ${disk.version}`);
  const clip = (): ClipAnswer =>
    ({
      id: 'c',
      recipe: disk.recipe,
      emptyRecipe: { ...record.recipe, regions: [], decisions: [] },
      recipeTag: tag(),
      record: disk.measured.length > 0 || first !== null ? record : null,
      outdated: false,
      faults: [],
    }) as unknown as ClipAnswer;
  const api: SessionApi = {
    clip: async () => clip(),
    traces: async () => {
      throw new RefusedError(404, { error: 'not sampled' });
    },
    saveRecipe: async (_, { recipe, ifTag }) => {
      await Promise.resolve();
      if (disk.refuse) throw disk.refuse;
      if (ifTag !== tag()) throw new RefusedError(409, { error: 'changed', recipeTag: tag() });
      disk.recipe = recipe;
      disk.version++;
      return { recipeTag: tag()! };
    },
    measure: async (_, { save }) => {
      saving = save;
      if (save) disk.written++;
      disk.measured.push(disk.recipe);
      if (disk.recipe === null) {
        disk.recipe = record.recipe;
        disk.version++;
      }
      return { job: 'j' };
    },
    find: async () => ({ job: 'f' }),
    job: async (job) => ({
      job,
      kind: 'measure',
      clip: 'c',
      state: 'done',
      stage: '',
      fraction: 1,
      result: {
        record,
        recipe: record.recipe,
        recipeTag: saving ? tag() : null,
        traces: NO_TRACES,
        saved: saving,
      },
    }),
    cancel: async (job) => {
      disk.cancelled.push(job);
      return { job, kind: 'measure', clip: 'c', state: 'cancelled', stage: '', fraction: null };
    },
  };
  return { api, disk, clip };
}

beforeEach(() => {
  vi.useFakeTimers();
});
afterEach(() => {
  vi.useRealTimers();
});

/** Lets everything happen that is waited for, however busy the machine is. */
const settle = async (): Promise<void> => {
  await vi.advanceTimersByTimeAsync(500);
};
const pace = { saveAfterMs: 0, writeAfterMs: 0, lookEveryMs: 0 };
const open = (s: ReturnType<typeof server>) => new ClipSession(s.api, s.clip(), () => undefined, pace);
const labelled = (recipe: Recipe, chain: string): Recipe => ({ ...recipe, labels: { chain } });

describe('clip session', () => {
  it('a setting is saved, and the numbers follow from what was saved', async () => {
    const s = server(record.recipe);
    const session = open(s);
    session.edit(labelled(session.recipe, 'Birch'), 'said');
    expect(session.state.saving).toBe('unsaved');
    await settle();
    expect(s.disk.recipe?.labels).toEqual({ chain: 'Birch' });
    // Once for the numbers, once for the files.
    expect(s.disk.measured.map((r) => r?.labels.chain)).toEqual(['Birch', 'Birch']);
    expect(s.disk.written).toBe(1);
    expect(session.state).toMatchObject({ saving: 'saved', written: true, job: null, fault: null });
  });
  it('a moved region is saved, but measured only when asked', async () => {
    const s = server(record.recipe);
    const session = open(s);
    const regions = session.recipe.regions.map((r) => ({ ...r, x: r.x + 1 }));
    session.edit({ ...session.recipe, regions }, '');
    await settle();
    expect(s.disk.recipe?.regions).toEqual(regions);
    expect(s.disk.measured).toEqual([]);
    expect(session.state.outdated).toBe(true);
  });
  it('undo is saved and measured like any other edit', async () => {
    const s = server(record.recipe);
    const session = open(s);
    session.edit(labelled(session.recipe, 'Cedar'), '');
    await settle();
    session.undo();
    await settle();
    expect(s.disk.recipe).toEqual(record.recipe);
    session.redo();
    await settle();
    const chains = s.disk.measured.map((r) => r?.labels.chain);
    expect(chains.filter((_, i) => i % 2 === 0)).toEqual(['Cedar', record.recipe.labels.chain, 'Cedar']);
  });
  it('undone and done again at once: saved is said', async () => {
    const session = open(server(record.recipe));
    session.edit(labelled(session.recipe, 'x'), '');
    await settle();
    session.undo();
    session.redo();
    await settle();
    expect(session.state.saving).toBe('saved');
  });
  it('edits in quick succession end up on disk, without a conflict with themselves', async () => {
    const s = server(record.recipe);
    const session = open(s);
    for (let i = 0; i < 20; i++) {
      session.edit(labelled(session.recipe, `n${i}`), '');
      if (i % 3 === 0) void session.save();
      if (i % 5 === 0) await Promise.resolve();
    }
    await settle();
    expect(s.disk.recipe?.labels.chain).toBe('n19');
    expect(session.state.saving).toBe('saved');
  });
  it('a file that was changed elsewhere is not overwritten unasked', async () => {
    const s = server(record.recipe);
    const session = open(s);
    s.disk.recipe = labelled(record.recipe, 'theirs');
    s.disk.version++;
    session.edit(labelled(session.recipe, 'mine'), '');
    await settle();
    expect(session.state.saving).toBe('conflict');
    expect(s.disk.recipe.labels.chain).toBe('theirs');
    session.edit(labelled(session.recipe, 'mine again'), '');
    await settle();
    expect(s.disk.recipe.labels.chain).toBe('theirs');
    await session.takeTheirs();
    expect(session.recipe.labels.chain).toBe('theirs');
    expect(session.state.saving).toBe('saved');
    session.undo();
    expect(session.recipe.labels.chain).toBe('mine again');
  });
  it('and is overwritten when asked', async () => {
    const s = server(record.recipe);
    const session = open(s);
    s.disk.version++;
    session.edit(labelled(session.recipe, 'mine'), '');
    await settle();
    await session.keepMine();
    expect(s.disk.recipe?.labels.chain).toBe('mine');
    expect(session.state.saving).toBe('saved');
  });
  it('a measurement that writes the first recipe brings its regions here', async () => {
    const s = server(null);
    const session = open(s);
    expect(session.recipe.regions).toEqual([]);
    await session.measure();
    expect(session.recipe.regions).toEqual(record.recipe.regions);
    session.edit(labelled(session.recipe, 'x'), '');
    await settle();
    expect(session.state.saving).toBe('saved');
  });
  it('a server that falls silent in between is said, and measuring works again afterwards', async () => {
    const s = server(null);
    let isSilent = true;
    const api: SessionApi = {
      ...s.api,
      clip: async (id) => {
        if (isSilent) throw new RefusedError(503, { error: 'The desk is busy.' });
        return s.api.clip(id);
      },
    };
    const session = new ClipSession(api, s.clip(), () => undefined, pace);
    await session.measure();
    expect(session.state.fault).toBe('The desk is busy.');
    isSilent = false;
    await session.measure();
    expect(session.state.fault).toBeNull();
    expect(session.recipe.regions).toEqual(record.recipe.regions);
    for (const answer of ['takeTheirs', 'keepMine'] as const) {
      isSilent = true;
      await session[answer]();
      expect(session.state.fault).toBe('The desk is busy.');
    }
  });
  it('no save, no measurement, and the reason is shown', async () => {
    const s = server(record.recipe);
    const session = open(s);
    s.disk.refuse = new RefusedError(500, { error: 'The disk is full.' });
    session.edit(labelled(session.recipe, 'x'), '');
    await settle();
    expect(session.state).toMatchObject({ saving: 'failed', fault: 'The disk is full.' });
    expect(s.disk.measured).toEqual([]);
  });
  it('numbers that are older than the recipe are brought up to date on opening', async () => {
    const s = server(record.recipe);
    const session = new ClipSession(
      { ...s.api, traces: async () => NO_TRACES },
      { ...s.clip(), outdated: true },
      () => undefined,
      pace,
    );
    await session.begin();
    await settle();
    expect(s.disk.written).toBe(1);
    expect(session.state.outdated).toBe(false);
  });
  it('leaving has the files written that were to follow', async () => {
    const s = server(record.recipe);
    const session = new ClipSession(s.api, s.clip(), () => undefined, { ...pace, writeAfterMs: 1e6 });
    session.edit(labelled(session.recipe, 'x'), '');
    await settle();
    expect([s.disk.written, session.state.written]).toEqual([0, false]);
    session.close();
    await settle();
    expect(s.disk.written).toBe(1);
  });
  it('a job is cancelled even before it has a name', async () => {
    const s = server(record.recipe);
    const session = new ClipSession(
      {
        ...s.api,
        job: async (job) => ({
          job,
          kind: 'measure',
          clip: 'c',
          state: s.disk.cancelled.includes(job) ? 'cancelled' : 'running',
          stage: '',
          fraction: null,
        }),
      },
      s.clip(),
      () => undefined,
      pace,
    );
    const measured = session.measure();
    expect(session.state.job).toBeNull();
    await Promise.resolve();
    expect(session.state.job?.id).toBe('');
    session.cancel();
    await settle();
    await measured;
    expect(s.disk.cancelled).toEqual(['j']);
    expect(session.state).toMatchObject({ job: null, said: 'Cancelled.', fault: null });
  });
  it('a job is cancelled while it is looked at for the first time', async () => {
    const s = server(record.recipe);
    let looks = 0;
    const session = new ClipSession(
      {
        ...s.api,
        job: async (job) => {
          if (looks++ === 0) session.cancel();
          return {
            job,
            kind: 'measure',
            clip: 'c',
            state: looks > 1 && s.disk.cancelled.includes(job) ? 'cancelled' : 'running',
            stage: '',
            fraction: null,
          };
        },
      },
      s.clip(),
      () => undefined,
      pace,
    );
    void session.measure();
    await settle();
    expect(s.disk.cancelled).toEqual(['j']);
    expect(session.state).toMatchObject({ job: null, said: 'Cancelled.', fault: null });
  });
  it('a clip without samples is no fault', async () => {
    const session = open(server(record.recipe));
    await session.loadTraces();
    expect(session.state).toMatchObject({ traces: null, fault: null });
  });
});
