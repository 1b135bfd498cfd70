/** Edits of regions as pure functions: whole pixels of the upright picture, always inside it, never too small. */
import type { Region, RegionRole } from '../../../region/region.js';

/** Size of the upright picture, px. */
export interface PictureSize {
  readonly width: number;
  readonly height: number;
}

/** A point of the upright picture, px; fractions allowed. */
export interface PicturePoint {
  readonly x: number;
  readonly y: number;
}

/** The four numbers of a rectangle, px. */
export interface Rectangle {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** Which sides of a rectangle move along; `-1` left or top, `1` right or bottom, `0` neither. */
export interface Grip {
  readonly horizontal: -1 | 0 | 1;
  readonly vertical: -1 | 0 | 1;
}

/** The least side of a region, px (the recipe asks for two). */
export const LEAST_SIDE_PX = 2;

/** A size that a new region gets when it is made without a pointer, as a share of the picture's height. */
const NEW_SHARE = 0.12;

const between = (value: number, low: number, high: number): number => Math.min(high, Math.max(low, value));

/** The nearest rectangle of whole pixels that lies inside the picture; its size is kept where that is possible. */
export function insidePicture(rectangle: Rectangle, picture: PictureSize): Rectangle {
  const width = between(Math.round(rectangle.width), LEAST_SIDE_PX, picture.width);
  const height = between(Math.round(rectangle.height), LEAST_SIDE_PX, picture.height);
  return {
    x: between(Math.round(rectangle.x), 0, picture.width - width),
    y: between(Math.round(rectangle.y), 0, picture.height - height),
    width,
    height,
  };
}

/** Moves by whole pixels; stops at the picture's edge. */
export function moved<T extends Rectangle>(region: T, dx: number, dy: number, picture: PictureSize): T {
  return { ...region, ...insidePicture({ ...region, x: region.x + dx, y: region.y + dy }, picture) };
}

/** Moves the sides that the grip names by `dx`, `dy`; the other sides stay where they are. */
export function resized<T extends Rectangle>(
  region: T,
  grip: Grip,
  dx: number,
  dy: number,
  picture: PictureSize,
): T {
  const [x, width] = movedSides(region.x, region.width, grip.horizontal, dx, picture.width);
  const [y, height] = movedSides(region.y, region.height, grip.vertical, dy, picture.height);
  return { ...region, x, y, width, height };
}

function movedSides(from: number, size: number, side: -1 | 0 | 1, by: number, limit: number) {
  const to = from + size;
  if (side === 0) return [from, size] as const;
  if (side > 0) return [from, between(Math.round(to + by), from + LEAST_SIDE_PX, limit) - from] as const;
  const start = between(Math.round(from + by), 0, to - LEAST_SIDE_PX);
  return [start, to - start] as const;
}

/** The rectangle between two corners, in any order, grown to whole pixels. */
export function dragged(one: PicturePoint, other: PicturePoint, picture: PictureSize): Rectangle {
  const left = Math.floor(between(Math.min(one.x, other.x), 0, picture.width));
  const top = Math.floor(between(Math.min(one.y, other.y), 0, picture.height));
  const right = Math.ceil(between(Math.max(one.x, other.x), 0, picture.width));
  const bottom = Math.ceil(between(Math.max(one.y, other.y), 0, picture.height));
  return insidePicture({ x: left, y: top, width: right - left, height: bottom - top }, picture);
}

/** A rectangle in the middle of what is seen, for a region that is made with the keyboard. */
export function placedAt(centre: PicturePoint, picture: PictureSize): Rectangle {
  const side = Math.max(LEAST_SIDE_PX, Math.round(picture.height * NEW_SHARE));
  return insidePicture(
    { x: centre.x - side / 2, y: centre.y - side / 2, width: side, height: side },
    picture,
  );
}

/** A name that no region has yet: the role, with a number from the second on. */
export function freeName(regions: readonly Region[], role: RegionRole): string {
  const taken = new Set(regions.map((r) => r.name));
  if (!taken.has(role)) return role;
  let n = 2;
  while (taken.has(`${role} ${n}`)) n++;
  return `${role} ${n}`;
}

/** Adds a region. There is one LED: a second one takes the first one's place and keeps its name. */
export function withRegion(regions: readonly Region[], role: RegionRole, rectangle: Rectangle): Region[] {
  const led = role === 'led' ? regions.findIndex((r) => r.role === 'led') : -1;
  if (led >= 0) return regions.map((r, i) => (i === led ? { ...r, ...rectangle } : r));
  return [...regions, { name: freeName(regions, role), role, ...rectangle }];
}

/** Replaces the region at an index. */
export function replaced(regions: readonly Region[], index: number, region: Region): Region[] {
  return regions.map((r, i) => (i === index ? region : r));
}

/** Leaves out the region at an index. */
export function without(regions: readonly Region[], index: number): Region[] {
  return regions.filter((_, i) => i !== index);
}

/** Why a region cannot be called so, one sentence; null where it can. */
export function nameFault(regions: readonly Region[], index: number, name: string): string | null {
  if (name.trim() === '') return 'A region needs a name.';
  if (name.length > 100) return 'A name has 100 characters at most.';
  return regions.some((r, i) => i !== index && r.name === name) ? 'Another region has this name.' : null;
}

/** Why regions cannot have this role, one sentence; null where they can. */
export function roleFault(regions: readonly Region[], index: number, role: RegionRole): string | null {
  const other = regions.find((r, i) => i !== index && r.role === 'led');
  return role === 'led' && other ? `"${other.name}" is the LED already; there is one.` : null;
}

/** True where both lists name the same places in the same roles. */
export function sameRegions(one: readonly Region[], other: readonly Region[]): boolean {
  const text = (regions: readonly Region[]): string =>
    JSON.stringify(regions.map((r) => [r.name, r.role, r.x, r.y, r.width, r.height, r.labels ?? {}]));
  return text(one) === text(other);
}
