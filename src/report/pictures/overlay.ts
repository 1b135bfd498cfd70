/** A picture of the clip with its regions drawn in and named, for people to see what was looked at. */
import { expected } from '../../errors.js';
import { html, type Markup } from '../markup.js';
import { pictureLibrary } from './pictureLibrary.js';
import { lettersPath, lettersWidth } from './strokeLetters.js';

/** An upright picture: 8-bit RGB, row by row, `3 * width * height` bytes. */
export interface OverlayPicture {
  readonly width: number;
  readonly height: number;
  readonly rgb: Uint8Array;
}

/** A region to draw, in the pixels of the full upright picture. */
export interface OverlayRegion {
  readonly name: string;
  readonly role: 'led' | 'screen' | 'reference';
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** How to draw. */
export interface OverlayOptions {
  /** Width of the full upright picture, px: regions are scaled by `picture.width / fullWidthPx`. */
  readonly fullWidthPx: number;
  readonly format?: 'jpeg' | 'png';
}

interface Frame {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

// Role by line pattern first (dash in line widths); the colours only help.
const STYLES = {
  led: { dash: null, colour: '#ffd27a' },
  screen: { dash: [4, 2], colour: '#8fe3e8' },
  reference: { dash: [0.1, 2.2], colour: '#ffffff' },
} as const;

const DARK = '#0b1014';

const overlaps = (a: Frame, b: Frame): boolean =>
  a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;

/** A place for a label: above, below, right, left of or inside the region; the first that hides nothing placed. */
function placeLabel(region: Frame, label: Frame, picture: OverlayPicture, taken: readonly Frame[]): Frame {
  const gap = 3;
  const corners: readonly (readonly [number, number])[] = [
    [region.x, region.y - label.height - gap],
    [region.x, region.y + region.height + gap],
    [region.x + region.width + gap, region.y],
    [region.x - label.width - gap, region.y],
    [region.x + gap, region.y + gap],
  ];
  const inside = corners.map(([x, y]) => ({
    ...label,
    x: Math.max(0, Math.min(picture.width - label.width, x)),
    y: Math.max(0, Math.min(picture.height - label.height, y)),
  }));
  return inside.find((place) => !taken.some((other) => overlaps(place, other))) ?? inside[0]!;
}

function drawRegion(
  region: OverlayRegion,
  frame: Frame,
  label: Frame,
  linePx: number,
  letterPx: number,
): Markup {
  const { dash, colour } = STYLES[region.role];
  const box = {
    x: frame.x - linePx,
    y: frame.y - linePx,
    width: frame.width + 2 * linePx,
    height: frame.height + 2 * linePx,
  };
  const rect = (stroke: string, width: number, pattern: readonly number[] | null): Markup =>
    html`<rect x="${box.x}" y="${box.y}" width="${box.width}" height="${box.height}" fill="none" stroke="${stroke}" stroke-width="${width}" stroke-linecap="${region.role === 'reference' ? 'round' : 'butt'}"${
      pattern === null ? null : html` stroke-dasharray="${pattern.map((p) => p * linePx).join(' ')}"`
    }/>`;
  const pad = letterPx / 2;
  const letters = lettersPath(labelText(region), label.x + pad, label.y + pad, letterPx);
  const plate = html`<rect x="${label.x}" y="${label.y}" width="${label.width}" height="${label.height}" rx="${pad / 2}" fill="${DARK}" fill-opacity="0.82"/>`;
  return html`${rect(DARK, linePx * 2, null)}${rect(colour, linePx, dash)}${plate}<path d="${letters}" fill="none" stroke="${colour}" stroke-width="${letterPx / 6.5}" stroke-linecap="round" stroke-linejoin="round"/>`;
}

function labelText(region: OverlayRegion): string {
  const name = region.name.length > 24 ? `${region.name.slice(0, 23)}.` : region.name;
  return name.toLowerCase() === region.role ? name : `${name} · ${region.role}`;
}

/** The regions as SVG over a picture of the given size; letters are strokes, so no font is asked for. */
export function overlaySvg(
  picture: OverlayPicture,
  regions: readonly OverlayRegion[],
  options: OverlayOptions,
): string {
  const scale = picture.width / options.fullWidthPx;
  const letterPx = Math.max(8, Math.round(picture.width / 64));
  const linePx = Math.max(1.5, picture.width / 480);
  const frames = regions.map((r) => ({
    x: r.x * scale,
    y: r.y * scale,
    width: r.width * scale,
    height: r.height * scale,
  }));
  const taken: Frame[] = [...frames];
  const drawn = regions.map((region, i) => {
    const size = {
      x: 0,
      y: 0,
      width: lettersWidth(labelText(region), letterPx) + letterPx,
      height: 2 * letterPx,
    };
    const place = placeLabel(frames[i]!, size, picture, taken);
    taken.push(place);
    return drawRegion(region, frames[i]!, place, linePx, letterPx);
  });
  return html`<svg xmlns="http://www.w3.org/2000/svg" width="${picture.width}" height="${picture.height}">${drawn}</svg>`
    .text;
}

/**
 * JPEG (or PNG) bytes of the picture with outlined, labelled regions: LED solid, screen dashed, reference dotted.
 * The same input gives the same bytes with the same version of sharp. Throws `UsageError` on a picture of another
 * length than `3 * width * height`, or a full width that is not positive.
 */
export async function drawOverlay(
  picture: OverlayPicture,
  regions: readonly OverlayRegion[],
  options: OverlayOptions,
): Promise<Uint8Array> {
  const { width, height, rgb } = picture;
  if (rgb.length !== 3 * width * height || rgb.length === 0) {
    throw expected('picture.rgb.length', `3 * ${width} * ${height} and more than 0`, rgb.length);
  }
  if (!(options.fullWidthPx > 0)) throw expected('fullWidthPx', 'more than 0', options.fullWidthPx);
  const sharp = await pictureLibrary();
  const base = sharp(rgb, { raw: { width, height, channels: 3 } });
  const drawn = base.composite([
    { input: Buffer.from(overlaySvg(picture, regions, options)), left: 0, top: 0 },
  ]);
  const encoded = options.format === 'png' ? drawn.png() : drawn.jpeg({ quality: 82, mozjpeg: false });
  return new Uint8Array(await encoded.toBuffer());
}
