/**
 * Facts of clips in the user's cache folder: FFmpeg takes a quarter of measuring a clip again only to say them. An entry is
 * named by the clip, by its file's name, by the FFmpeg that was asked, and by lagreel's own code.
 */
import { type FfmpegMark, ffmpegMark, findFfmpeg } from './clip/ffmpeg.js';
import type { ClipFacts } from './clip/frameSource.js';
import type { FactsStore } from './clip/openClip.js';
import { codeMark } from './findingsCache.js';
import { entryPath, keepData, readData, type SamplesCache } from './samples/cacheEntries.js';

/** The cache as a place for facts. */
export function cachedFacts(cache: SamplesCache): FactsStore {
  const known = new Set<string>();
  const pathOf = async (ffmpeg: FfmpegMark, { file, sha256, bytes }: Parameters<FactsStore['read']>[0]) =>
    entryPath(cache, 'facts', [await codeMark(), process.version, ffmpeg, file, sha256, bytes]);
  return {
    read: async (clip) => {
      const ffmpeg = await ffmpegMark();
      if (!ffmpeg) return null;
      const path = await pathOf(ffmpeg, clip);
      const facts = await readData<ClipFacts>(path);
      if (facts) known.add(path);
      return facts;
    },
    keep: async (facts) => {
      const ffmpeg = await ffmpegMark();
      if (!ffmpeg) return;
      const path = await pathOf(ffmpeg, facts);
      // The first that is there need not be one that runs.
      if (known.has(path) || (await findFfmpeg()).path !== ffmpeg.path) return;
      await keepData(cache, path, facts);
    },
  };
}
