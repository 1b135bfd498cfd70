/** Paints the pictures of an annotated clip: letters and lines are drawn once by sharp, then only copied. */
import { expected } from '../../errors.js';
import { COUNTER_GLYPHS, counterText } from '../annotated/counterText.js';
import type { FilmLayout } from '../annotated/filmLayout.js';
import {
  COUNTER_COLOUR,
  dotRadiusPx,
  PANEL_COLOUR,
  type PanelState,
  type PanelWords,
  panelSvg,
  traceScale,
  traceSvg,
} from '../annotated/panelSvg.js';
import type { Phase } from '../annotated/timeline.js';
import { drawSvg, svgLine, svgSheet } from './lettering.js';
import { type OverlayRegion, overlaySvg } from './overlay.js';

/** Coverage of one glyph of the counter in its cell, 0..255 a pixel. */
export interface Glyph {
  readonly width: number;
  readonly height: number;
  readonly coverage: Uint8Array;
}

/** The counter's glyphs, each as wide as its cell. */
export async function counterGlyphs(layout: FilmLayout): Promise<ReadonlyMap<string, Glyph>> {
  const { cells, sizePx } = layout.counter;
  const glyphs = new Map<string, Glyph>();
  for (const character of COUNTER_GLYPHS) {
    const cell = character === '.' ? cells.at(-2)! : cells[0]!;
    const text = svgLine(cell.width / 2, sizePx * 0.86, character === '-' ? '−' : character, {
      sizePx,
      weight: 700,
      fill: '#ffffff',
      anchor: 'middle',
    });
    const drawn = await drawSvg(svgSheet(cell.width, cell.height, text));
    const coverage = new Uint8Array(cell.width * cell.height);
    for (let i = 0; i < coverage.length; i++) coverage[i] = drawn.bytes[4 * i + 3]!;
    glyphs.set(character, { width: cell.width, height: cell.height, coverage });
  }
  return glyphs;
}

const channelsOf = (colour: string): [number, number, number] => [
  Number.parseInt(colour.slice(1, 3), 16),
  Number.parseInt(colour.slice(3, 5), 16),
  Number.parseInt(colour.slice(5, 7), 16),
];

/** The panels of one press, RGB. */
export interface PanelLayers {
  readonly states: Readonly<Record<PanelState, Uint8Array>>;
  /** The trace alone, RGBA. */
  readonly trace: Uint8Array;
  /** ms from the press to px. */
  readonly x: (ms: number) => number;
  readonly radiusPx: number;
  readonly words: PanelWords;
}

/** Draws the panels of one press. */
export async function panelLayers(layout: FilmLayout, words: PanelWords): Promise<PanelLayers> {
  const rgb = async (state: PanelState) =>
    (await drawSvg(await panelSvg(layout, words, state), PANEL_COLOUR)).bytes;
  return {
    states: {
      before: await rgb('before'),
      waiting: await rgb('waiting'),
      answered: await rgb('answered'),
    },
    trace: (await drawSvg(traceSvg(layout, words))).bytes,
    x: traceScale(layout, words.traces),
    radiusPx: dotRadiusPx(layout, words.traces),
    words,
  };
}

/** Outlines and names of the regions over the picture. */
export async function outlineLayer(
  layout: FilmLayout,
  regions: readonly OverlayRegion[],
  uprightWidthPx: number,
): Promise<InkedPixels> {
  const { width, height } = layout.picture;
  const drawn = await drawSvg(
    overlaySvg({ width, height, rgb: new Uint8Array(0) }, regions, { fullWidthPx: uprightWidthPx }),
  );
  const inked: number[] = [];
  for (let i = 0; i < width * height; i++) if (drawn.bytes[4 * i + 3]! > 0) inked.push(i);
  return { at: Uint32Array.from(inked), rgba: drawn.bytes };
}

/** A drawing of which only a few pixels are inked. */
export interface InkedPixels {
  /** Indices of pixels that are not transparent. */
  readonly at: Uint32Array;
  /** The whole drawing, RGBA. */
  readonly rgba: Uint8Array;
}

/** Everything that is drawn beforehand. */
export interface FilmLayers {
  readonly layout: FilmLayout;
  readonly glyphs: ReadonlyMap<string, Glyph>;
  /** Pixels of the picture that outlines and names cover. */
  readonly outlines: InkedPixels;
}

/** What one picture of the film shows. */
export interface FilmPicture {
  /** The camera frame, upright RGB of the picture's size. */
  readonly rgb: Uint8Array;
  readonly counterMs: number;
  readonly phase: Phase;
  /** Position of this frame in the press's traces. */
  readonly index: number;
}

/**
 * One picture of the film, RGB. Copies only: no scaling, no time, nothing carried over from the picture before.
 * @throws UsageError for a camera frame of another size.
 */
export function paintFilm(layers: FilmLayers, panel: PanelLayers, shown: FilmPicture): Uint8Array {
  const { layout, outlines } = layers;
  const { picture } = layout;
  if (shown.rgb.length !== 3 * picture.width * picture.height)
    throw expected('shown.rgb.length', `3 * ${picture.width} * ${picture.height}`, shown.rgb.length);
  const out = new Uint8Array(3 * layout.width * layout.height);
  out.set(shown.rgb);
  for (const i of outlines.at) blend(out, 3 * i, outlines.rgba, 4 * i, 1);
  const state = stateOf(shown.phase);
  const top = 3 * layout.width * layout.panel.y;
  out.set(panel.states[state], top);
  for (const [i, row] of layout.rows.entries()) {
    const timeMs = panel.words.traces[i]!.timesMs[shown.index]!;
    const uncovered = Math.ceil(panel.x(timeMs) + panel.radiusPx + 1) - row.x;
    const width = Math.max(0, Math.min(row.width, uncovered));
    for (let y = row.y; y < row.y + row.height; y++) {
      const start = y * layout.width + row.x;
      blend(out, top + 3 * start, panel.trace, 4 * start, width);
    }
  }
  drawCounter(out, layers, shown.counterMs);
  return out;
}

/** The panel's state in a phase of the press. */
export function stateOf(phase: Phase): PanelState {
  return phase === 'answer' || phase === 'after' ? 'answered' : phase;
}

/** Lays `pixels` RGBA pixels over RGB ones. */
function blend(out: Uint8Array, outAt: number, over: Uint8Array, overAt: number, pixels: number): void {
  for (let i = 0; i < pixels; i++) {
    const alpha = over[overAt + 4 * i + 3]!;
    if (alpha === 0) continue;
    for (let c = 0; c < 3; c++) {
      const at = outAt + 3 * i + c;
      out[at] = Math.round((over[overAt + 4 * i + c]! * alpha + out[at]! * (255 - alpha)) / 255);
    }
  }
}

function drawCounter(out: Uint8Array, { layout, glyphs }: FilmLayers, counterMs: number): void {
  const ink = channelsOf(COUNTER_COLOUR);
  for (const [i, character] of Array.from(counterText(counterMs)).entries()) {
    const glyph = glyphs.get(character);
    const cell = layout.counter.cells[i]!;
    if (glyph === undefined) continue;
    for (let y = 0; y < glyph.height; y++) {
      for (let x = 0; x < Math.min(glyph.width, cell.width); x++) {
        const alpha = glyph.coverage[y * glyph.width + x]!;
        if (alpha === 0) continue;
        const at = 3 * ((layout.panel.y + cell.y + y) * layout.width + cell.x + x);
        for (let c = 0; c < 3; c++)
          out[at + c] = Math.round((ink[c]! * alpha + out[at + c]! * (255 - alpha)) / 255);
      }
    }
  }
}
