import { describe, expect, it } from 'vitest';
import type { ClipFacts } from '../../src/clip/frameSource.js';
import type { Overview } from '../../src/region/activity.js';
import { screenRegions } from '../../src/region/blockRegions.js';

const COLUMNS = 32;
const ROWS = 24;
const overview = { columns: COLUMNS, rows: ROWS } as Overview;
const facts = {
  codedWidth: 320,
  codedHeight: 240,
  orientation: { rotationDeg: 0, mirrored: false },
} as ClipFacts;

/** Blocks of some rows that change by so many codes. */
function rows(from: number, to: number, codes: number): [number, number][] {
  const out: [number, number][] = [];
  for (let y = from; y < to; y++) for (let x = 8; x < 24; x++) out.push([y * COLUMNS + x, codes]);
  return out;
}

const bottomPx = (blocks: readonly [number, number][]) =>
  Math.max(...screenRegions(new Map(blocks), overview, facts).map((r) => r.y + r.height));

describe('a screen and its mirror image in the bench', () => {
  const screen = rows(4, 14, 150);

  it('are told apart by how much they change, though no row parts them', () => {
    // A bench throws back a tenth of the light at most (common practice, no source); encoded by ITU-R BT.709 that is 0.29 of
    // the codes.
    expect(bottomPx([...screen, ...rows(14, 18, 45)])).toBeLessThanOrEqual(140);
    expect(bottomPx(screen)).toBeLessThanOrEqual(140);
  });

  it('a part of the screen that changes by half as much belongs to it', () => {
    expect(bottomPx([...screen, ...rows(14, 20, 80)])).toBeGreaterThan(180);
  });

  it('rows that hold most of what changes stay, however little each of them does', () => {
    expect(bottomPx([...rows(4, 6, 150), ...rows(6, 20, 45)])).toBeGreaterThan(180);
  });
});
