/** Overview pictures of clips in the user's cache folder: drawing one takes a picture of the clip and a library. */
import type { OverviewQuestion, OverviewStore } from './archive/writeResults.js';
import { codeMark } from './findingsCache.js';
import { entryPath, keepEntry, readEntry, type SamplesCache } from './samples/cacheEntries.js';

/** The cache as a place for overview pictures. An entry is named by all that is drawn, and by lagreel's own code. */
export function cachedOverviews(cache: SamplesCache): OverviewStore {
  const pathOf = async ({ facts, mediaS, regions }: OverviewQuestion) =>
    entryPath(cache, 'picture', [await codeMark(), process.arch, facts, mediaS, regions]);
  return {
    read: async (question) => readEntry(await pathOf(question), (content) => content),
    keep: async (question, picture) => keepEntry(cache, await pathOf(question), () => picture),
  };
}
