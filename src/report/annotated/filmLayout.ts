/** Where everything stands in an annotated clip: the picture above, the panel with counter and traces beneath it. */

/** A rectangle of the film, px, whole numbers. */
export interface Box {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** All places; `picture` and `panel` in the film, the others within the panel. */
export interface FilmLayout {
  readonly width: number;
  readonly height: number;
  readonly picture: Box;
  readonly panel: Box;
  /** Drawing unit: letters and lines are multiples of it. */
  readonly unitPx: number;
  readonly title: Box;
  readonly note: Box;
  /** Cells of the counter from left to right; the point has a narrow cell of its own. */
  readonly counter: { readonly cells: readonly Box[]; readonly sizePx: number };
  readonly unit: { readonly x: number; readonly baselineY: number; readonly sizePx: number };
  readonly state: Box;
  readonly latency: Box;
  /** One row a trace: the LED above, the screen beneath. */
  readonly rows: readonly [Box, Box];
  readonly footnote: Box;
}

/** Characters of the counter before and after the point: `-1234` and `5`. */
export const COUNTER_WHOLE = 5;

const even = (value: number): number => 2 * Math.max(1, Math.round(value / 2));

/** Longest side of the picture, and the least width that letters need, px: for films, and for looping pictures. */
const SIZES = {
  film: { longestPx: 1280, narrowestPx: 640 },
  loop: { longestPx: 640, narrowestPx: 480 },
} as const;

/**
 * Size of the picture: shrunk to the longest side, or enlarged until letters fit below it (by a whole factor where
 * there is room, so that small pictures keep their pixels).
 */
export function pictureSize(
  uprightWidth: number,
  uprightHeight: number,
  kind: keyof typeof SIZES,
): { width: number; height: number } {
  const { longestPx, narrowestPx } = SIZES[kind];
  const longest = Math.max(uprightWidth, uprightHeight);
  let scale = Math.min(1, longestPx / longest);
  if (scale * uprightWidth < narrowestPx) {
    const whole = Math.ceil(narrowestPx / uprightWidth);
    scale = whole * longest <= longestPx ? whole : narrowestPx / uprightWidth;
  }
  return { width: even(uprightWidth * scale), height: even(uprightHeight * scale) };
}

/** The places for a picture of the given size (even px). */
export function filmLayout(pictureWidth: number, pictureHeight: number): FilmLayout {
  const wide = pictureWidth >= 900;
  const u = wide ? pictureWidth / 1280 : pictureWidth / 640;
  const px = (units: number) => Math.round(units * u);
  const width = pictureWidth;
  const margin = px(wide ? 36 : 24);
  const inner = width - 2 * margin;
  const panelHeight = even((wide ? 356 : 452) * u);
  const sizePx = px(wide ? 100 : 88);
  const digit = Math.round(sizePx * 0.64);
  const point = Math.round(sizePx * 0.3);
  const counterTop = px(wide ? 74 : 72);
  const cells: Box[] = [];
  let x = margin;
  for (let i = 0; i < COUNTER_WHOLE + 2; i++) {
    const cellWidth = i === COUNTER_WHOLE ? point : digit;
    cells.push({ x, y: counterTop, width: cellWidth, height: Math.round(sizePx * 1.1) });
    x += cellWidth;
  }
  const counterBottom = counterTop + Math.round(sizePx * 1.1);
  const left = wide ? px(470) : inner;
  const plotX = wide ? margin + left + px(24) : margin;
  const plotTop = wide ? px(78) : counterBottom + px(96);
  const plotWidth = width - margin - plotX;
  const rowHeight = px(wide ? 88 : 60);
  const rowGap = px(wide ? 12 : 10);
  const row = (index: number): Box => ({
    x: plotX,
    y: plotTop + index * (rowHeight + rowGap),
    width: plotWidth,
    height: rowHeight,
  });
  return {
    width,
    height: pictureHeight + panelHeight,
    picture: { x: 0, y: 0, width: pictureWidth, height: pictureHeight },
    panel: { x: 0, y: pictureHeight, width, height: panelHeight },
    unitPx: u,
    title: { x: margin, y: px(16), width: Math.round(inner * 0.56), height: px(36) },
    note: {
      x: margin + Math.round(inner * 0.58),
      y: px(16),
      width: inner - Math.round(inner * 0.58),
      height: px(36),
    },
    counter: { cells, sizePx },
    unit: { x: x + px(10), baselineY: counterTop + Math.round(sizePx * 0.86), sizePx: px(wide ? 42 : 36) },
    state: { x: margin, y: counterBottom + px(6), width: left, height: px(34) },
    latency: { x: margin, y: counterBottom + px(wide ? 46 : 42), width: left, height: px(46) },
    rows: [row(0), row(1)],
    footnote: {
      x: margin,
      y: panelHeight - px(wide ? 38 : 36),
      width: inner,
      height: px(24),
    },
  };
}
