import { mkdtempSync, readdirSync, readFileSync, rmSync, truncateSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { writeResults } from '../src/archive/writeResults.js';
import type { FrameSource } from '../src/clip/frameSource.js';
import { type Measurement, measureClip } from '../src/measure.js';
import { cachedOverviews } from '../src/overviewCache.js';
import { clipFiles } from '../src/record/files.js';
import type { Recipe } from '../src/record/recipe.js';
import { type FilmedScene, filmScene } from './filmedScene.js';

/** A busy machine takes its time. */
const HOOK_TIMEOUT_MS = 60_000;

let film: FilmedScene;
beforeAll(async () => {
  film = await filmScene(7, { display: ['panel'], content: ['flash'] });
}, HOOK_TIMEOUT_MS);

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lagreel-overview-test-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const measured = (recipe: Recipe = film.recipe) => measureClip(film.source, recipe);

/** Writes the results; how many pictures were read for them, and the overview that came out. */
async function written(
  measurement: Measurement,
  useCache = true,
): Promise<{ readonly stills: number; readonly picture: string }> {
  let stills = 0;
  const source: FrameSource = {
    ...film.source,
    readStill: (...args) => {
      stills++;
      return film.source.readStill(...args);
    },
  };
  const cache = { folder: join(folder, 'cache'), limitBytes: 1e9 };
  const files = clipFiles('clip.mp4', folder);
  const overviews = useCache ? cachedOverviews(cache) : undefined;
  await writeResults(source, measurement, files, { writeRecipe: false, overviews });
  return { stills, picture: readFileSync(files.regions).toString('base64') };
}

describe('overview pictures that were kept', () => {
  it('are those that would be drawn, without a look at the clip', async () => {
    const first = await written(await measured());
    expect(first).toEqual(await written(await measured(), false));
    expect(first.stills).toBe(1);
    expect(await written(await measured())).toEqual({ ...first, stills: 0 });
  });

  it('are drawn anew for another name, place or first press, and where they are not sound', async () => {
    const first = await written(await measured());
    const { recipe, scene } = film;
    const [led, ...screens] = recipe.regions;
    const others: Recipe[] = [
      { ...recipe, regions: [led!, ...screens.map((r) => ({ ...r, name: 'up' }))] },
      { ...recipe, regions: [{ ...led!, x: led!.x + 1, width: led!.width - 1 }, ...screens] },
      {
        ...recipe,
        decisions: [{ pressAtS: scene.presses.leadInS, decision: 'exclude', reason: 'another answer' }],
      },
    ];
    for (const other of others.slice(0, 2)) {
      const drawn = await written(await measured(other));
      expect(drawn.stills).toBe(1);
      expect(drawn).toEqual(await written(await measured(other), false));
      expect(drawn.picture).not.toBe(first.picture);
    }
    expect((await written(await measured(others[2]))).picture).toBe(
      (await written(await measured(others[2]), false)).picture,
    );
    for (const name of readdirSync(join(folder, 'cache'))) truncateSync(join(folder, 'cache', name), 60);
    expect(await written(await measured())).toEqual(first);
  });
});
