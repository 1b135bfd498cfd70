/** Everything below `/api`: the folder, one clip, its pictures, recipe, jobs, and the comparison. */
import { Hono } from 'hono';
import { compareFiles, withSession } from '../../node.js';
import { emptyRecipe } from '../../record/parseRecipe.js';
import type { Recipe } from '../../record/recipe.js';
import { renderComparison } from '../../report/comparisonText.js';
import { version } from '../../version.js';
import type { CompareAnswer, FolderAnswer, JobStarted, SavedRecipe } from '../protocol.js';
import { cardOf, clipAnswer } from './answers.js';
import type { BenchLine } from './benchLine.js';
import { compareBody, findBody, jsonBody, measureBody, saveBody } from './bodies.js';
import { type ClipState, clipState } from './clipState.js';
import { besideClip, type DeskFolder } from './deskFolder.js';
import type { DeskEnv } from './gate.js';
import type { Jobs } from './jobs.js';
import type { OpenClip, OpenClips } from './openClips.js';
import { askedRecipe, saveRecipeFile } from './recipeFile.js';
import { Refusal } from './refusal.js';
import type { ReportTickets } from './reportTickets.js';

/** What the routes work with. */
export interface DeskParts {
  readonly folder: DeskFolder;
  readonly clips: OpenClips;
  readonly jobs: Jobs;
  readonly tickets: ReportTickets;
  readonly bench: BenchLine;
}

const TEXT_WIDTH = 100;
const FRAME_PX = { least: 160, most: 3840, usual: 1280 } as const;

/** The recipe that a clip is measured by: as it stands on disk or in the request, for this clip, labels of the session over it. */
export function fullRecipe({ source }: OpenClip, recipe: Recipe | null, { row }: ClipState): Recipe {
  const { file, sha256, bytes } = source.facts;
  const clip = { file, sha256, bytes };
  return withSession(recipe ? { ...recipe, clip } : emptyRecipe(clip), row);
}

/** The routes below `/api`. */
export function apiRoutes({ folder, clips, jobs, tickets, bench }: DeskParts): Hono<DeskEnv> {
  const app = new Hono<DeskEnv>();

  /** The clip of an id, and what stands on disk about it. */
  async function opened(id: string): Promise<{ readonly clip: OpenClip; readonly state: ClipState }> {
    const file = await folder.find(id);
    const state = await clipState(folder, file);
    return { clip: await clips.open(file), state };
  }

  app.get('/clips', async (c) => {
    const { clips: files, left } = await folder.list();
    const cards = [];
    for (const file of files) cards.push(cardOf(file, await clipState(folder, file)));
    const labelKeys = [...new Set(cards.flatMap((card) => Object.keys(card.labels)))].sort();
    return c.json({ folder: folder.name, version, clips: cards, left, labelKeys } satisfies FolderAnswer);
  });

  app.get('/clips/:id', async (c) => {
    const { clip, state } = await opened(c.req.param('id'));
    const recipe = state.recipe && fullRecipe(clip, state.recipe, state);
    // Where it was sampled before, its pictures tell which frames are copies; the page opens all the same where not.
    const clock =
      recipe && recipe.regions.length > 0
        ? await bench.ask({ kind: 'clock', clip: clip.benchClip, recipe }).catch(() => null)
        : null;
    return c.json(await clipAnswer(clip, state, clock?.known ? clock : null));
  });

  app.get('/clips/:id/frame/:index', async (c) => {
    const max = whole(c.req.query('max') ?? String(FRAME_PX.usual), 'max', FRAME_PX.least, FRAME_PX.most);
    const index = whole(c.req.param('index'), 'the number of a frame', 0, Number.MAX_SAFE_INTEGER);
    const clip = await clips.open(await folder.find(c.req.param('id')));
    const frames = (await clip.ticks()).length;
    if (index >= frames) throw new Refusal(404, `${clip.file.name} has frames from 0 to ${frames - 1}.`);
    return c.body(await bytesOf(clip.frame(index, max)), 200, { 'content-type': 'image/jpeg' });
  });

  app.get('/clips/:id/thumbnail', async (c) => {
    const clip = await clips.open(await folder.find(c.req.param('id')));
    return c.body(await bytesOf(clip.thumbnail()), 200, { 'content-type': 'image/jpeg' });
  });

  app.get('/clips/:id/strip/:press/:region', async (c) => {
    const { clip, state } = await opened(c.req.param('id'));
    const press = whole(c.req.param('press'), 'the number of a press', 1, Number.MAX_SAFE_INTEGER);
    const recipe = fullRecipe(clip, state.recipe, state);
    const region = c.req.param('region');
    const svg = await bench.ask({ kind: 'strip', clip: clip.benchClip, recipe, press, region });
    return c.body(svg, 200, { 'content-type': 'image/svg+xml' });
  });

  app.get('/clips/:id/traces', async (c) => {
    const { clip, state } = await opened(c.req.param('id'));
    const recipe = fullRecipe(clip, state.recipe, state);
    return c.json(await bench.ask({ kind: 'traces', clip: clip.benchClip, recipe }));
  });

  app.post('/clips/:id/report', async (c) => {
    const { clip, state } = await opened(c.req.param('id'));
    const recipe = fullRecipe(clip, state.recipe, state);
    await bench.ask({ kind: 'traces', clip: clip.benchClip, recipe });
    return c.json({ address: tickets.issue(clip.file.id) });
  });

  app.put('/clips/:id/recipe', async (c) => {
    const { recipe, ifTag } = saveBody(await jsonBody(c));
    const { clip } = await opened(c.req.param('id'));
    return c.json({ recipeTag: await save(clip, askedRecipe(recipe), ifTag) } satisfies SavedRecipe);
  });

  async function save(clip: OpenClip, recipe: Recipe, ifTag: string | null): Promise<string> {
    const { sha256, file, bytes } = clip.source.facts;
    if (recipe.clip.sha256 !== '' && recipe.clip.sha256 !== sha256)
      throw new Refusal(422, `This is the recipe of another clip, not of ${file}: load the clip again.`);
    await folder.checkInside(besideClip(clip.file.files));
    return saveRecipeFile(clip.file.files.recipe, { ...recipe, clip: { file, sha256, bytes } }, ifTag);
  }

  app.post('/clips/:id/measure', async (c) => {
    const body = measureBody(await jsonBody(c));
    const { clip, state } = await opened(c.req.param('id'));
    const given = body.recipe === undefined ? null : askedRecipe(body.recipe);
    if (body.save) await folder.checkInside(besideClip(clip.file.files));
    if (body.save && given) await save(clip, given, body.ifTag);
    const recipe = fullRecipe(clip, given ?? state.recipe, state);
    const ask = { kind: 'measure', clip: clip.benchClip, recipe } as const;
    const job = jobs.start('measure', clip.file.id, async (signal, tell) => {
      if (!body.save)
        return { ...(await bench.ask({ ...ask, save: false }, { signal, tell })), recipeTag: null };
      const row = state.row ?? null;
      const measured = await bench.ask({ ...ask, save: true, row }, { signal, tell });
      const { recipeTag } = await clipState(folder, clip.file);
      return { ...measured, recipeTag };
    });
    return c.json({ job } satisfies JobStarted, 202);
  });

  app.post('/clips/:id/find', async (c) => {
    const body = findBody(await jsonBody(c));
    const { clip, state } = await opened(c.req.param('id'));
    const recipe = fullRecipe(clip, body.recipe === undefined ? null : askedRecipe(body.recipe), state);
    const job = jobs.start('find', clip.file.id, (signal, tell) =>
      bench.ask({ kind: 'find', clip: clip.benchClip, recipe }, { signal, tell }),
    );
    return c.json({ job } satisfies JobStarted, 202);
  });

  app.get('/jobs/:job', (c) => c.json(jobs.look(c.req.param('job'))));
  app.delete('/jobs/:job', async (c) => c.json(await jobs.cancel(c.req.param('job'))));

  app.post('/compare', async (c) => {
    const { ids, ...request } = compareBody(await jsonBody(c));
    const records: string[] = [];
    for (const id of ids) {
      const file = await folder.find(id);
      await folder.checkInside(besideClip(file.files));
      records.push(file.files.record);
    }
    const { comparison } = await compareFiles(records, request);
    const text = renderComparison(comparison, { colour: false, width: TEXT_WIDTH });
    return c.json({ comparison, text } satisfies CompareAnswer);
  });

  return app;
}

/** As the web's types want bytes. */
async function bytesOf(picture: Promise<Uint8Array>): Promise<Uint8Array<ArrayBuffer>> {
  return (await picture) as Uint8Array<ArrayBuffer>;
}

function whole(text: string, what: string, least: number, most: number): number {
  if (/^\d{1,15}$/.test(text) && Number(text) >= least && Number(text) <= most) return Number(text);
  throw new Refusal(400, `${what} must be a whole number from ${least} to ${most}.`);
}
