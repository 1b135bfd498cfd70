/**
 * The pictures of a scene prepared for one rectangle of the coded picture: everything that does not depend on time
 * is worked out once, per pixel, or per block of pixels for a shrunken view (averages of linear light).
 */
import type { PixelRect } from '../clip/frameSource.js';
import { uprightToCoded } from './orient.js';
import {
  contentLightAt,
  covers,
  idleLightAt,
  ledShareAt,
  reflectanceAt,
  secondLedShareAt,
  stillLightAt,
} from './picture.js';
import type { Scene } from './scene.js';

/** Columns and rows of coded pixels that one view is made of: cell i covers edges[i] .. edges[i+1]-1. */
export interface ViewGrid {
  readonly xEdges: Int32Array;
  readonly yEdges: Int32Array;
}

/** Every pixel of a rectangle as a cell of its own, with `margin` more on each side. */
export function pixelGrid(rect: PixelRect, margin: number): ViewGrid {
  const edges = (from: number, count: number): Int32Array =>
    Int32Array.from({ length: count + 2 * margin + 1 }, (_, i) => from - margin + i);
  return { xEdges: edges(rect.x, rect.width), yEdges: edges(rect.y, rect.height) };
}

/** The whole picture of `width` x `height` px in `columns` x `rows` blocks, with `margin` blocks more on each side. */
export function blockGrid(
  width: number,
  height: number,
  columns: number,
  rows: number,
  margin: number,
): ViewGrid {
  const edges = (size: number, count: number): Int32Array =>
    Int32Array.from({ length: count + 2 * margin + 1 }, (_, i) => Math.floor(((i - margin) * size) / count));
  return { xEdges: edges(width, columns), yEdges: edges(height, rows) };
}

/** A part of the view that shows the screen, straight or mirrored in a surface. */
export interface ScreenPart {
  /** Cells, half-open. */
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
  /** Height on the screen (0 top, 1 bottom) of the upper and lower end of each row of cells, or of each column. */
  readonly along: 'rows' | 'columns';
  /** Index 2i and 2i+1: the two ends of row (or column) i of the view. */
  readonly heights: Float64Array;
}

/** Light of the screen's pictures over the cells of a view, row by row. */
export interface ScreenPictures {
  /** Light of the screen while picture `content` and idle step `idle` are shown. */
  settled(content: number, idle: number): Float32Array;
  /** Picture `to` minus picture `from` of the part that answers, or of the part that moves all the time. */
  change(layer: 'content' | 'idle', from: number, to: number): Float32Array;
  /** The picture after less the picture before, where both layers matter (a figure over a scrolled picture). */
  between(from: readonly [number, number], to: readonly [number, number]): Float32Array;
}

/** One prepared view. Arrays have columns * rows entries, row by row. */
export interface View {
  readonly grid: ViewGrid;
  readonly columns: number;
  readonly rows: number;
  readonly reflectance: Float32Array;
  readonly ledShare: Float32Array;
  /** First and one past the last column with LED light, two entries a row; equal where there is none. */
  readonly ledSpan: Int32Array;
  /** The same of another LED that blinks by itself. */
  readonly secondShare: Float32Array;
  readonly secondSpan: Int32Array;
  readonly screenParts: readonly ScreenPart[];
  readonly pictures: ScreenPictures;
}

interface ScreenPlace {
  readonly x: number;
  readonly y: number;
  readonly share: number;
}

/** Which screen pixel the upright pixel (x, y) shows, and how much of its light; null for none. */
function screenPlaceAt(scene: Scene, x: number, y: number): ScreenPlace | null {
  const { screen, room } = scene;
  if (covers(screen.rect, x, y)) return { x, y, share: 1 };
  const mirror = room.reflection;
  if (!mirror || !covers(mirror.rect, x, y)) return null;
  const across = (x + 0.5 - mirror.rect.x) / mirror.rect.width;
  const down = 1 - (y + 0.5 - mirror.rect.y) / mirror.rect.height;
  return {
    x: screen.rect.x + Math.floor(across * screen.rect.width),
    y: screen.rect.y + Math.floor(down * screen.rect.height),
    share: mirror.share,
  };
}

/** Mean of `valueAt` (upright pixel) over each cell. */
function fill(scene: Scene, grid: ViewGrid, valueAt: (x: number, y: number) => number): Float32Array {
  const columns = grid.xEdges.length - 1;
  const rows = grid.yEdges.length - 1;
  const out = new Float32Array(columns * rows);
  const { rotationDeg, widthPx, heightPx } = scene.picture;
  for (let row = 0; row < rows; row++) {
    const top = grid.yEdges[row]!;
    const bottom = grid.yEdges[row + 1]!;
    for (let column = 0; column < columns; column++) {
      const left = grid.xEdges[column]!;
      const right = grid.xEdges[column + 1]!;
      let sum = 0;
      for (let y = top; y < bottom; y++) {
        for (let x = left; x < right; x++) {
          if (rotationDeg === 0) sum += valueAt(x, y);
          else if (rotationDeg === 90) sum += valueAt(widthPx - 1 - y, x);
          else if (rotationDeg === 180) sum += valueAt(widthPx - 1 - x, heightPx - 1 - y);
          else sum += valueAt(y, heightPx - 1 - x);
        }
      }
      out[row * columns + column] = sum / ((bottom - top) * (right - left));
    }
  }
  return out;
}

function spanOf(values: Float32Array, columns: number, rows: number): Int32Array {
  const span = new Int32Array(2 * rows);
  for (let row = 0; row < rows; row++) {
    let first = columns;
    let end = 0;
    for (let column = 0; column < columns; column++) {
      if (values[row * columns + column]! <= 0) continue;
      first = Math.min(first, column);
      end = column + 1;
    }
    span[2 * row] = end > first ? first : 0;
    span[2 * row + 1] = end > first ? end : 0;
  }
  return span;
}

/** Cells [from, to) that touch the pixels [low, high). */
function touching(edges: Int32Array, low: number, high: number): [number, number] {
  const count = edges.length - 1;
  let from = 0;
  while (from < count && edges[from + 1]! <= low) from++;
  let to = from;
  while (to < count && edges[to]! < high) to++;
  return [from, to];
}

function screenPart(scene: Scene, grid: ViewGrid, rect: PixelRect, mirrored: boolean): ScreenPart | null {
  // The rectangle and the direction of the screen's lines in coded pixels.
  const { picture } = scene;
  const along = picture.rotationDeg === 90 || picture.rotationDeg === 270 ? 'columns' : 'rows';
  const coded = uprightToCoded(picture, rect);
  const [left, right] = touching(grid.xEdges, coded.x, coded.x + coded.width);
  const [top, bottom] = touching(grid.yEdges, coded.y, coded.y + coded.height);
  if (right <= left || bottom <= top) return null;
  const edges = along === 'rows' ? grid.yEdges : grid.xEdges;
  const low = along === 'rows' ? coded.y : coded.x;
  const size = along === 'rows' ? coded.height : coded.width;
  const upsideDown = (picture.rotationDeg === 180 || picture.rotationDeg === 270) !== mirrored;
  const heights = new Float64Array(2 * (edges.length - 1));
  for (let i = 0; i < edges.length - 1; i++) {
    const a = Math.min(1, Math.max(0, (edges[i]! - low) / size));
    const b = Math.min(1, Math.max(0, (edges[i + 1]! - low) / size));
    heights[2 * i] = upsideDown ? 1 - b : a;
    heights[2 * i + 1] = upsideDown ? 1 - a : b;
  }
  return { left, right, top, bottom, along, heights };
}

function screenPictures(scene: Scene, grid: ViewGrid): ScreenPictures {
  const { content, screen } = scene;
  const idleRect = content.idle?.rect;
  const kept = new Map<string, Float32Array>();
  const keep = (key: string, make: () => Float32Array): Float32Array => {
    let values = kept.get(key);
    if (!values) {
      values = make();
      kept.set(key, values);
    }
    return values;
  };
  const lightAt = (picture: number, step: number, x: number, y: number): number => {
    const place = screenPlaceAt(scene, x, y);
    if (!place) return 0;
    let light: number;
    if (covers(content.rect, place.x, place.y))
      light = contentLightAt(scene, picture, place.x, place.y, step);
    else if (idleRect && covers(idleRect, place.x, place.y))
      light = idleLightAt(scene, step, place.x, place.y);
    else light = stillLightAt(scene, place.x, place.y, step);
    return light * place.share * screen.whiteLight;
  };
  const settled = (picture: number, step: number): Float32Array =>
    keep(`settled ${picture} ${step}`, () => fill(scene, grid, (x, y) => lightAt(picture, step, x, y)));
  return {
    settled,
    change: (layer, from, to) =>
      keep(`${layer} ${from} ${to}`, () => {
        const after = layer === 'content' ? settled(to, 0) : settled(0, to);
        const before = layer === 'content' ? settled(from, 0) : settled(0, from);
        return after.map((value, i) => value - before[i]!);
      }),
    between: (from, to) =>
      keep(`between ${from} ${to}`, () => {
        const before = settled(...from);
        return settled(...to).map((value, i) => value - before[i]!);
      }),
  };
}

/** Prepares a view. Cost: linear in the pixels under the grid; pictures of the screen are made when first asked for. */
export function prepareView(scene: Scene, grid: ViewGrid): View {
  const columns = grid.xEdges.length - 1;
  const rows = grid.yEdges.length - 1;
  const ledShare = fill(scene, grid, (x, y) => ledShareAt(scene, x, y));
  const secondShare = fill(scene, grid, (x, y) => secondLedShareAt(scene, x, y));
  const parts = [screenPart(scene, grid, scene.screen.rect, false)];
  if (scene.room.reflection) parts.push(screenPart(scene, grid, scene.room.reflection.rect, true));
  return {
    grid,
    columns,
    rows,
    reflectance: fill(scene, grid, (x, y) => reflectanceAt(scene, x, y)),
    ledShare,
    ledSpan: spanOf(ledShare, columns, rows),
    secondShare,
    secondSpan: spanOf(secondShare, columns, rows),
    screenParts: parts.filter((part) => part !== null),
    pictures: screenPictures(scene, grid),
  };
}
