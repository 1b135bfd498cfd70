/** Which parts of a coded picture FFmpeg cuts out, and how a part's bytes become the rectangles that were asked for. */
import type { LumaPlane, PixelRect, ReadRect, RowStep } from './frameSource.js';

/** One part that FFmpeg cuts out and sends through one pipe. */
export interface Cut {
  readonly rect: PixelRect;
  /** Of its rows from the first one of the rectangle that was asked for, so many stand for one that is there. */
  readonly rowStep: RowStep;
  /** FFmpeg's filter chain that yields the part's luma. */
  readonly filter: string;
  /** Bytes of one picture. */
  readonly bytes: number;
}

/** All parts, and for each rectangle that was asked for the part it lies in. */
export interface CropPlan {
  readonly cuts: readonly Cut[];
  readonly cutOf: readonly number[];
}

/** Beyond this, rectangles share parts: each pipe costs FFmpeg an encoder and two system calls a frame. */
const MAX_CUTS = 8;

/**
 * Plans the cuts. Cropping comes first and the luma plane is copied out of the small part only: cropping moves no
 * bytes, while taking the plane first copies the whole picture. The chroma planes must be cut at whole chroma
 * samples, so parts are widened to even pixels.
 *
 * FFmpeg's own processor time against the same decode into nothing (`-f null`), 1920x1080, 240 fps, H.264,
 * 50 Mbit/s, the 2018 build, an LED of 40x40 and three bands of 320x80, times included. Medians of 3, 5 and 11
 * paired runs on two cores that were busy with other work; wall times were too disturbed to be worth a figure.
 *
 * | variant                                        | 5 s  | 2.5 s | 1 s  |
 * | ---------------------------------------------- | ---- | ----- | ---- |
 * | floor against floor (the noise)                |      | 0.97  |      |
 * | crop, then plane, one output each (taken)      | 1.02 | 1.04  | 0.97 |
 * | the same with one filter thread                | 1.02 | 1.02  | 1.00 |
 * | the same with two decoding threads             | 1.02 | 1.04  |      |
 * | the same, stacked into one output              | 0.98 | 0.98  | 1.08 |
 * | plane, then crop                               | 1.11 | 1.19  | 1.25 |
 *
 * The 5 s column and the row with two decoding threads are without `-flush_packets 1`; the row with one filter
 * thread is of a `split` graph in the 5 s column. Only the order of crop and plane stands out of the noise.
 */
export function planCuts(
  rects: readonly ReadRect[],
  picture: {
    readonly codedWidth: number;
    readonly codedHeight: number;
    readonly pixelFormat: string;
    readonly bitDepth: number;
  },
): CropPlan {
  const { codedWidth, codedHeight, pixelFormat, bitDepth } = picture;
  const step = /41[01]/.test(pixelFormat) ? 4 : 2;
  const cropFirst = codedWidth % step === 0 && codedHeight % step === 0;
  const grid = cropFirst ? step : 1;
  const groups = rects.map((rect, index): Group => {
    const wide = widen(rect, grid);
    // Halving keeps the upper or the lower of two rows; further down nothing can begin.
    const rowStep = rect.y - wide.y > 1 ? 1 : (rect.rowStep ?? 1);
    return { rect: wide, members: [index], rowStep, lower: rect.y > wide.y };
  });
  while (groups.length > MAX_CUTS || mergeFreely(groups)) mergeCheapest(groups);
  const cutOf = new Array<number>(rects.length).fill(0);
  groups.forEach((group, cut) => {
    for (const member of group.members) cutOf[member] = cut;
  });
  const cuts = groups.map(({ rect, rowStep, lower }) => {
    const crop = `crop=${rect.width}:${rect.height}:${rect.x}:${rect.y}`;
    // Rows are left out by stride arithmetic, before anything is copied.
    const halves = Array.from({ length: Math.log2(rowStep) }, (_, i) =>
      i === 0 && lower ? 'field=bottom' : 'field=top',
    );
    const chain = cropFirst ? [crop, ...halves, 'extractplanes=y'] : ['extractplanes=y', crop, ...halves];
    const first = rowStep > 1 && lower ? 1 : 0;
    const rows = Math.ceil((rect.height - first) / rowStep);
    return { rect, rowStep, filter: chain.join(','), bytes: rect.width * rows * (bitDepth > 8 ? 2 : 1) };
  });
  return { cuts, cutOf };
}

type Group = { rect: PixelRect; members: number[]; rowStep: RowStep; lower: boolean };

function widen(rect: PixelRect, grid: number): PixelRect {
  const x = Math.floor(rect.x / grid) * grid;
  const y = Math.floor(rect.y / grid) * grid;
  return {
    x,
    y,
    width: Math.ceil((rect.x + rect.width) / grid) * grid - x,
    height: Math.ceil((rect.y + rect.height) / grid) * grid - y,
  };
}

function union(a: PixelRect, b: PixelRect): PixelRect {
  const x = Math.min(a.x, b.x);
  const y = Math.min(a.y, b.y);
  return {
    x,
    y,
    width: Math.max(a.x + a.width, b.x + b.width) - x,
    height: Math.max(a.y + a.height, b.y + b.height) - y,
  };
}

function area(rect: PixelRect): number {
  return rect.width * rect.height;
}

/** Extra pixels of joining each pair; the cheapest first. */
function cheapestPair(
  groups: readonly Group[],
  thinned: boolean,
): { i: number; j: number; extraPx: number } | null {
  let best: { i: number; j: number; extraPx: number } | null = null;
  for (let i = 0; i < groups.length; i++) {
    for (let j = i + 1; j < groups.length; j++) {
      if (!thinned && (groups[i]!.rowStep > 1 || groups[j]!.rowStep > 1)) continue;
      const a = groups[i]!.rect;
      const b = groups[j]!.rect;
      const extraPx = area(union(a, b)) - area(a) - area(b);
      if (best === null || extraPx < best.extraPx) best = { i, j, extraPx };
    }
  }
  return best;
}

/** Whether some pair shares so much that joining it sends no more bytes. */
function mergeFreely(groups: readonly Group[]): boolean {
  const best = cheapestPair(groups, false);
  return best !== null && best.extraPx <= 0;
}

/** A part of several rectangles has all rows. */
function mergeCheapest(groups: Group[]): void {
  const best = cheapestPair(groups, groups.length > MAX_CUTS);
  if (best === null) return;
  const [gone] = groups.splice(best.j, 1);
  const kept = groups[best.i]!;
  groups[best.i] = {
    rect: union(kept.rect, gone!.rect),
    members: [...kept.members, ...gone!.members],
    rowStep: 1,
    lower: false,
  };
}

/** Copies one rectangle's wanted rows out of the part it lies in. Both planes are without padding. */
export function copyRect(
  part: LumaPlane,
  cut: Pick<Cut, 'rect' | 'rowStep'>,
  rect: ReadRect,
  target: LumaPlane,
): void {
  const { rect: whole, rowStep } = cut;
  const left = rect.x - whole.x;
  // A part with rows left out belongs to one rectangle and begins with its first row.
  const top = rowStep > 1 ? 0 : rect.y - whole.y;
  const step = rowStep > 1 ? 1 : (rect.rowStep ?? 1);
  const rows = rowsRead(rect);
  for (let row = 0; row < rows; row++) {
    const from = (top + row * step) * whole.width + left;
    target.set(part.subarray(from, from + rect.width), row * rect.width);
  }
}

/** A plane for the wanted rows of a rectangle. */
export function planeFor(rect: ReadRect, bitDepth: number): LumaPlane {
  const pixels = rect.width * rowsRead(rect);
  return bitDepth > 8 ? new Uint16Array(pixels) : new Uint8Array(pixels);
}

/** Rows of a rectangle that are read. */
export function rowsRead({ height, rowStep = 1 }: ReadRect): number {
  return Math.ceil(height / rowStep);
}
