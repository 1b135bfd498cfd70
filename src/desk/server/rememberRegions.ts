/** Regions that were sampled last stay in memory, so that a change of anything else needs neither decoder nor disk. */
import type { ClipFacts, PixelRect } from '../../clip/frameSource.js';
import type { RegionStore } from '../../samples/regionStore.js';
import type { StoredRegion } from '../../samples/storedSamples.js';

/** Light of a minute at 240 Hz in four regions; what is made of it takes a few times as much. */
const LIMIT_BYTES = 128 * 1024 * 1024;

/**
 * A store in memory before another one.
 * @param store where to look otherwise; null: nowhere.
 * @param limitBytes of light; what was used longest ago goes first.
 */
export function rememberRegions(store: RegionStore | null, limitBytes: number = LIMIT_BYTES): RegionStore {
  const regions = new Map<string, StoredRegion>();
  const keyOf = ({ sha256, decoder }: ClipFacts, { x, y, width, height }: PixelRect) =>
    JSON.stringify([sha256, decoder, x, y, width, height]);
  function remember(key: string, region: StoredRegion): void {
    regions.delete(key);
    regions.set(key, region);
    let bytes = 0;
    for (const { light } of regions.values()) bytes += light.light.byteLength;
    for (const [oldest, { light }] of regions) {
      if (bytes <= limitBytes) break;
      regions.delete(oldest);
      bytes -= light.light.byteLength;
    }
  }
  return {
    async read(facts, rect) {
      const key = keyOf(facts, rect);
      const region = regions.get(key) ?? (await store?.read(facts, rect)) ?? null;
      if (region) remember(key, region);
      return region;
    },
    async keep(facts, rect, region) {
      remember(keyOf(facts, rect), region);
      await store?.keep(facts, rect, region);
    },
  };
}
