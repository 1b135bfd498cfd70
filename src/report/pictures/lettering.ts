/**
 * Letters that come out the same on every machine, also on one without fonts: Inter from its package, named to
 * fontconfig before the first text is drawn. (FONTCONFIG_FILE is read once in the life of a process, when text is first
 * drawn; loading sharp itself does not read it.)
 */
import { mkdirSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { AnalysisError } from '../../errors.js';
import { partPath, removeLeftovers } from '../../partFiles.js';
import { asMarkup, escapeText, html } from '../markup.js';
import { pictureLibrary } from './pictureLibrary.js';

/** The weights that are used, with the folder and file of the package. */
export const FONT_FILES = {
  400: '400Regular/Inter_400Regular.ttf',
  600: '600SemiBold/Inter_600SemiBold.ttf',
  700: '700Bold/Inter_700Bold.ttf',
} as const;

/** A weight of the family `Inter`. */
export type FontWeight = keyof typeof FONT_FILES;

/** Absolute path of a font file. */
export function fontPath(weight: FontWeight): string {
  const require = createRequire(import.meta.url);
  return join(dirname(require.resolve('@expo-google-fonts/inter/package.json')), FONT_FILES[weight]);
}

let prepared = false;

/** Names the fonts to fontconfig, once in this process; call it before any text is drawn. */
export function prepareFonts(): void {
  if (prepared) return;
  try {
    const folder = partPath(join(tmpdir(), 'fonts'));
    mkdirSync(folder, { mode: 0o700 });
    // What processes left there that were killed.
    removeLeftovers(tmpdir()).catch(() => undefined);
    process.once('exit', () => rmSync(folder, { recursive: true, force: true }));
    const folders = ([400, 600, 700] as const).map((weight) => dirname(fontPath(weight)));
    const config = html`<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig>${folders.map((dir) => html`<dir>${dir}</dir>`)}<cachedir>${join(folder, 'cache')}</cachedir></fontconfig>
`;
    writeFileSync(join(folder, 'fonts.conf'), config.text);
    process.env.FONTCONFIG_FILE = join(folder, 'fonts.conf');
    prepared = true;
  } catch (cause) {
    throw new AnalysisError(
      'write-failed',
      `the fonts for pictures cannot be set up in ${tmpdir()}: free some space there, or name another folder with TMPDIR`,
      {},
      cause,
    );
  }
}

/** A picture with bands of 8 bits, row by row. */
export interface RawPicture {
  readonly width: number;
  readonly height: number;
  /** 3 (RGB) or 4 (RGBA) bytes a pixel. */
  readonly channels: 3 | 4;
  readonly bytes: Uint8Array;
}

/** Draws SVG text; opaque where `background` (`#rrggbb`) is given. */
export async function drawSvg(svg: string, background?: string): Promise<RawPicture> {
  prepareFonts();
  const sharp = await pictureLibrary();
  const drawn = sharp(Buffer.from(svg));
  const flat = background === undefined ? drawn.ensureAlpha() : drawn.flatten({ background });
  const { data, info } = await flat.raw().toBuffer({ resolveWithObject: true });
  return {
    width: info.width,
    height: info.height,
    channels: info.channels as 3 | 4,
    bytes: new Uint8Array(data),
  };
}

/** PNG bytes of an SVG text, opaque. */
export async function svgToPng(svg: string, background: string): Promise<Uint8Array> {
  prepareFonts();
  const sharp = await pictureLibrary();
  const png = sharp(Buffer.from(svg)).flatten({ background }).png({ compressionLevel: 7 });
  return new Uint8Array(await png.toBuffer());
}

const PANGO_WEIGHTS = { 400: 'Regular', 600: 'Semi-Bold', 700: 'Bold' } as const;
const widths = new Map<string, number>();

/** Width of the ink of one line of text, px. */
export async function textWidthPx(text: string, sizePx: number, weight: FontWeight): Promise<number> {
  if (text.trim() === '') return 0;
  const key = `${weight} ${text}`;
  let perPx = widths.get(key);
  if (perPx === undefined) {
    prepareFonts();
    // 48 points at 96 dpi are 64 px. Pango reads markup, so the text is escaped.
    const font = `Inter ${PANGO_WEIGHTS[weight]} 48`;
    const sharp = await pictureLibrary();
    const { width = 0 } = await sharp({ text: { text: escapeText(text), font, dpi: 96 } }).metadata();
    // Ink may reach a px beyond its box on each side.
    perPx = (width + 2) / 64;
    widths.set(key, perPx);
  }
  return perPx * sizePx;
}

/** The largest size from `sizePx` down to `smallestPx` at which the text is at most `widthPx` wide; then it is cut short. */
export async function fitLine(
  text: string,
  widthPx: number,
  sizePx: number,
  smallestPx: number,
  weight: FontWeight,
): Promise<{ readonly text: string; readonly sizePx: number }> {
  const full = await textWidthPx(text, sizePx, weight);
  if (full <= widthPx) return { text, sizePx };
  const size = Math.max(smallestPx, (sizePx * widthPx) / full);
  if ((await textWidthPx(text, size, weight)) <= widthPx * 1.001) return { text, sizePx: size };
  // Longest beginning that fits with an ellipsis, by bisection over whole characters.
  const characters = Array.from(text);
  let [low, high] = [0, characters.length - 1];
  while (low < high) {
    const middle = Math.ceil((low + high) / 2);
    const cut = `${characters.slice(0, middle).join('').trimEnd()}…`;
    if ((await textWidthPx(cut, size, weight)) <= widthPx) low = middle;
    else high = middle - 1;
  }
  return { text: `${characters.slice(0, low).join('').trimEnd()}…`, sizePx: size };
}

/** Breaks a text at spaces into lines of at most `widthPx`. */
export async function wrapLines(
  text: string,
  widthPx: number,
  sizePx: number,
  weight: FontWeight,
): Promise<string[]> {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ').filter((w) => w !== '')) {
    const longer = line === '' ? word : `${line} ${word}`;
    if (line !== '' && (await textWidthPx(longer, sizePx, weight)) > widthPx) {
      lines.push(line);
      line = word;
    } else line = longer;
  }
  if (line !== '') lines.push(line);
  return Promise.all(lines.map(async (l) => (await fitLine(l, widthPx, sizePx, sizePx, weight)).text));
}

/** An SVG text element; `anchor` start, middle or end. */
export function svgLine(
  x: number,
  y: number,
  text: string,
  style: {
    readonly sizePx: number;
    readonly weight: FontWeight;
    readonly fill: string;
    readonly anchor?: 'start' | 'middle' | 'end';
  },
): string {
  return html`<text x="${x.toFixed(2)}" y="${y.toFixed(2)}" font-family="Inter" font-weight="${style.weight}" font-size="${style.sizePx.toFixed(2)}" fill="${style.fill}" text-anchor="${style.anchor ?? 'start'}">${text}</text>`
    .text;
}

/** An SVG sheet of a size around markup that was built with `html` or `svgLine`. */
export function svgSheet(widthPx: number, heightPx: number, body: string): string {
  return html`<svg xmlns="http://www.w3.org/2000/svg" width="${widthPx}" height="${heightPx}" viewBox="0 0 ${widthPx} ${heightPx}">${asMarkup(body)}</svg>`
    .text;
}
