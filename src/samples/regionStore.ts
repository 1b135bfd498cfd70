/** Regions that were sampled before are taken from where they are kept, and only the others are decoded. */
import type { ClipFacts, FrameTimes, PixelRect } from '../clip/frameSource.js';
import { joinRegions, sampleClip, sampleRegions } from './sampleClip.js';
import type { StoredRegion } from './storedSamples.js';

/** A place where regions of clips are kept. What it gives is exactly what decoding would give. */
export interface RegionStore {
  /** null where the region is not there, or not sound. */
  read(facts: ClipFacts, rect: PixelRect): Promise<StoredRegion | null>;
  keep(facts: ClipFacts, rect: PixelRect, region: StoredRegion): Promise<void>;
}

/** `sampleClip`, but by way of a store: one pass for all regions that it does not have. */
export function sampleByWayOf(store: RegionStore): typeof sampleClip {
  return async (source, regions, options = {}) => {
    const { facts } = source;
    const kept = await Promise.all(regions.map((rect) => store.read(facts, rect)));
    options.signal?.throwIfAborted();
    const known = kept.find((k) => k !== null) ?? null;
    const missing = regions.filter((_, i) => kept[i] === null);
    let times = known?.times;
    let fresh: readonly StoredRegion[] = [];
    if (missing.length > 0) {
      const pass = await sampleRegions(source, missing, options);
      times = pass.times;
      fresh = pass.regions.map((light) => ({ light, times: pass.times }));
      if (!pass.times.stoppedEarly) {
        for (const [i, region] of fresh.entries()) await store.keep(facts, missing[i]!, region);
      }
    } else options.onProgress?.(known!.times.ptsTicks.length);
    // Two passes over one file see the same frames; if ever they do not, only one pass for all regions is worth anything.
    if (!kept.every((k) => k === null || sameTimes(k.times, times!)))
      return sampleClip(source, regions, options);
    let next = 0;
    const parts = kept.map((k) => (k ?? fresh[next++]!).light);
    return { samples: joinRegions({ regions: parts, times: times! }, regions, facts), times: times! };
  };
}

function sameTimes(a: FrameTimes, b: FrameTimes): boolean {
  return (
    a === b ||
    (a.damagedFrames === b.damagedFrames &&
      a.stoppedEarly === b.stoppedEarly &&
      a.ptsTicks.length === b.ptsTicks.length &&
      a.ptsTicks.every((t, k) => t === b.ptsTicks[k]))
  );
}
