/** The report's colours: one table for light, one for dark; tests hold them to WCAG 2.2 AA. */

/** Names of the colours. `ink`, `muted`, `accent`, `model`, `warn` and `ok` are used for text. */
export interface Palette {
  /** The page. */
  readonly paper: string;
  /** Raised surfaces. */
  readonly card: string;
  /** Main text. */
  readonly ink: string;
  /** Side notes. */
  readonly muted: string;
  /** Hairlines: never the only carrier of meaning. */
  readonly line: string;
  /** What was measured. */
  readonly accent: string;
  /** What a model says. */
  readonly model: string;
  /** What to worry about. */
  readonly warn: string;
  /** What is in order. */
  readonly ok: string;
  /** Surface of pictures and traces. */
  readonly well: string;
}

/** For light surroundings and for print. sRGB hex. */
export const lightPalette: Palette = {
  paper: '#f7f5f0',
  card: '#ffffff',
  ink: '#1a232b',
  muted: '#535e68',
  line: '#d8d3c7',
  accent: '#0b5c69',
  model: '#8a4f00',
  warn: '#9a2d17',
  ok: '#21653a',
  well: '#efece4',
};

/** For dark surroundings. sRGB hex. */
export const darkPalette: Palette = {
  paper: '#10161b',
  card: '#182027',
  ink: '#ece8df',
  muted: '#a8b1b8',
  line: '#36424c',
  accent: '#7cc7cc',
  model: '#e6b765',
  warn: '#f3a38d',
  ok: '#94d0a4',
  well: '#0b1014',
};

/** Tokens that colour text, and the surfaces that text stands on. */
export const textTokens = [
  'ink',
  'muted',
  'accent',
  'model',
  'warn',
  'ok',
] as const satisfies readonly (keyof Palette)[];
/** See `textTokens`. */
export const surfaceTokens = ['paper', 'card', 'well'] as const satisfies readonly (keyof Palette)[];

/** CSS declarations of a palette: `--ink:#...;`. */
export function paletteCss(palette: Palette): string {
  return Object.entries(palette)
    .map(([name, colour]) => `--${name}:${colour};`)
    .join('');
}

function linearChannel(hex: string): number {
  const c = Number.parseInt(hex, 16) / 255;
  return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
}

function relativeLuminance(colour: string): number {
  const channel = (at: number): number => linearChannel(colour.slice(at, at + 2));
  return 0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5);
}

/** Contrast ratio of two `#rrggbb` colours, 1..21 (WCAG 2.2, "contrast ratio" and "relative luminance"). */
export function contrastRatio(one: string, other: string): number {
  const [low, high] = [relativeLuminance(one), relativeLuminance(other)].sort((a, b) => a - b) as [
    number,
    number,
  ];
  return (high + 0.05) / (low + 0.05);
}
