/**
 * Light of regions that were decoded before, in the user's cache folder: a changed threshold needs no decoding, and of
 * changed regions only those.
 */
import { endianness } from 'node:os';
import type { ClipFacts, PixelRect } from '../clip/frameSource.js';
import { entryPath, keepEntry, readEntry, type SamplesCache } from './cacheEntries.js';
import { type RegionStore, sampleByWayOf } from './regionStore.js';
import type { sampleClip } from './sampleClip.js';
import { packRegion, SAMPLES_FORMAT, unpackRegion } from './storedSamples.js';

/** `sampleClip`, but from the cache where the same region of the same clip was sampled before. */
export function cachedSampleClip(cache: SamplesCache): typeof sampleClip {
  return sampleByWayOf(cachedRegions(cache));
}

/** The cache as a place for regions. */
export function cachedRegions(cache: SamplesCache): RegionStore {
  const pathOf = (facts: ClipFacts, rect: PixelRect) => entryPath(cache, 'samples', nameOf(facts, rect));
  return {
    read: (facts, rect) => readEntry(pathOf(facts, rect), unpackRegion),
    keep: (facts, rect, region) => keepEntry(cache, pathOf(facts, rect), () => packRegion(region)),
  };
}

/**
 * Everything that the light depends on: the clip's bytes, how they are read (facts and decoder), the rectangle, and
 * the version of sampling. Name and role of the region, and regions beside it, change nothing.
 */
function nameOf(facts: ClipFacts, { x, y, width, height }: PixelRect): readonly unknown[] {
  const { sha256, decoder, codedWidth, codedHeight, orientation, pixelFormat, bitDepth, range, transfer } =
    facts;
  const { timeBase, declaredFrames, editList } = facts;
  const read = [decoder, codedWidth, codedHeight, orientation, pixelFormat, bitDepth, range, transfer];
  const rect = [x, y, width, height];
  return [SAMPLES_FORMAT, endianness(), sha256, ...read, timeBase, declaredFrames, editList, rect];
}
