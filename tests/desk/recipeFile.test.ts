/** Recipes are written whole, and only over what the writer has seen. */
import { existsSync, readdirSync, readFileSync, utimesSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { ClipAnswer } from '../../src/desk/protocol.js';
import { readRecipeFile, saveRecipeFile, tagOf } from '../../src/desk/server/recipeFile.js';
import { emptyRecipe } from '../../src/record/parseRecipe.js';
import type { Recipe } from '../../src/record/recipe.js';
import { folderOf, scratch, testDesk } from './deskClient.js';

const named = (chain: string): Recipe => ({
  ...emptyRecipe({ file: 'a.mp4', sha256: '', bytes: 1 }),
  labels: { chain },
});

describe('saveRecipeFile', () => {
  it('writes where nothing was, and over what is known', async () => {
    const path = join(scratch(), 'a.recipe.json');
    const first = await saveRecipeFile(path, named('Alder'), null);
    expect(first).toBe(tagOf(readFileSync(path, 'utf8')));
    const second = await saveRecipeFile(path, named('Birch'), first);
    expect((await readRecipeFile(path))?.tag).toBe(second);
    expect(readdirSync(join(path, '..'))).toEqual(['a.recipe.json']);
  });
  it('refuses to write over what another one wrote, and says what stands there', async () => {
    const path = join(scratch(), 'a.recipe.json');
    const first = await saveRecipeFile(path, named('Alder'), null);
    const second = await saveRecipeFile(path, named('Birch'), first);
    const text = readFileSync(path, 'utf8');
    for (const known of [null, first, 'f'.repeat(64)]) {
      await expect(saveRecipeFile(path, named('Cedar'), known)).rejects.toMatchObject({
        status: 409,
        facts: { recipeTag: second },
      });
    }
    expect(readFileSync(path, 'utf8')).toBe(text);
  });
  it('takes the same recipe again, as after an answer that got lost', async () => {
    const path = join(scratch(), 'a.recipe.json');
    const tag = await saveRecipeFile(path, named('Alder'), null);
    expect(await saveRecipeFile(path, named('Alder'), null)).toBe(tag);
  });
  it('of many at once exactly one wins', async () => {
    const path = join(scratch(), 'a.recipe.json');
    const tag = await saveRecipeFile(path, named('Alder'), null);
    const ends = await Promise.allSettled(
      Array.from({ length: 12 }, (_, i) => saveRecipeFile(path, named(`desk ${i}`), tag)),
    );
    const won = ends.flatMap((end) => (end.status === 'fulfilled' ? [end.value] : []));
    expect(won).toEqual([tagOf(readFileSync(path, 'utf8'))]);
    expect(readdirSync(join(path, '..'))).toEqual(['a.recipe.json']);
  });
  it('goes past a lock that a dead process left', async () => {
    const path = join(scratch(), 'a.recipe.json');
    const lock = join(path, '..', '.a.recipe.json.lock');
    writeFileSync(lock, 'somebody');
    utimesSync(lock, new Date(0), new Date(0));
    await saveRecipeFile(path, named('Alder'), null);
    expect(existsSync(lock)).toBe(false);
  });
});

describe('two desks on one folder', () => {
  it('the second to write is told, and nothing is lost', async () => {
    const folder = folderOf('cedar-sprite.mp4');
    const [one, two] = [await testDesk(folder), await testDesk(folder)];
    try {
      const id = await one.idOf('cedar-sprite.mp4');
      const seen = async (desk: typeof one) => (await desk.get(`/api/clips/${id}`)).json<ClipAnswer>();
      const [a, b] = [await seen(one), await seen(two)];
      expect([a.recipe, a.recipeTag, b.recipeTag]).toEqual([null, null, null]);
      const put = (desk: typeof one, chain: string, ifTag: string | null) =>
        desk.send('PUT', `/api/clips/${id}/recipe`, {
          recipe: { ...a.emptyRecipe, labels: { chain } },
          ifTag,
        });
      const saved = await put(one, 'Alder', a.recipeTag);
      expect(saved.status).toBe(200);
      const { recipeTag } = saved.json<{ readonly recipeTag: string }>();
      const refused = await put(two, 'Birch', b.recipeTag);
      expect(refused.status).toBe(409);
      expect(refused.json()).toEqual({ error: expect.stringContaining('changed meanwhile'), recipeTag });
      const now = await seen(two);
      expect(now.recipe?.labels).toEqual({ chain: 'Alder' });
      expect((await put(two, 'Birch', now.recipeTag)).status).toBe(200);
      // An editor is as good as another desk.
      writeFileSync(join(folder, 'cedar-sprite.recipe.json'), `${JSON.stringify(a.emptyRecipe)}\n`);
      const third = (await seen(one)).recipe;
      expect(third?.labels).toEqual({});
      expect((await put(one, 'Cedar', recipeTag)).status).toBe(409);
    } finally {
      await Promise.all([one.close(), two.close()]);
    }
  });
  it('a recipe of another clip is not written', async () => {
    const desk = await testDesk(folderOf('cedar-sprite.mp4'));
    try {
      const id = await desk.idOf('cedar-sprite.mp4');
      const { emptyRecipe: recipe } = (await desk.get(`/api/clips/${id}`)).json<ClipAnswer>();
      const other = { ...recipe, clip: { ...recipe.clip, sha256: '0'.repeat(64) } };
      const answer = await desk.send('PUT', `/api/clips/${id}/recipe`, { recipe: other, ifTag: null });
      expect(answer.status).toBe(422);
      expect(readdirSync(desk.folder)).toEqual(['cedar-sprite.mp4']);
    } finally {
      await desk.close();
    }
  });
});
