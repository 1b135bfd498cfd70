/** A card of the whole board: the groups in order, each with sign, word, figure and bar on one axis. */
import { scaleLinear } from 'd3-scale';
import type { Comparison } from '../../record/comparison.js';
import { boardDomainMs } from '../board/boardPlot.js';
import { type BoardRow, boardRows } from '../board/boardRows.js';
import { boardTitle } from '../board/boardTable.js';
import { LAG_WORDS, lagSign } from '../lagSign.js';
import { html } from '../markup.js';
import { counted, short } from '../numberText.js';
import { plainText } from '../plainText.js';
import {
  type Card,
  type CardShape,
  type CardTheme,
  cardGround,
  cardLine,
  cardSheet,
  cardText,
} from './cardSheet.js';
import { delayBarSvg } from './delayBar.js';

/** Rows that can be read from a sofa. */
const MOST_ROWS = { wide: 6, tall: 9 } as const;

const ZERO_WORDS = {
  passed: 'zero check passed',
  failed: 'zero check failed',
  missing: 'no zero check',
} as const;

/** The card; groups beyond the room are counted in words, never dropped in silence. */
export async function boardCard(comparison: Comparison, shape: CardShape, theme: CardTheme): Promise<Card> {
  const ground = cardGround(shape, theme);
  const { marginPx: m, widthPx, heightPx, palette: p } = ground;
  const inner = widthPx - 2 * m;
  const wide = shape === 'wide';
  const all = boardRows(comparison);
  // Where not all rows have room and a screen has several regions, every chain at one region says more than some at all.
  const region = all.length > MOST_ROWS[shape] ? (comparison.groups[0]?.region ?? null) : null;
  const rows = all.filter((row) => region === null || row.group.region === region).slice(0, MOST_ROWS[shape]);
  const title = boardTitle(comparison);
  const parts: string[] = [
    await cardLine(m, wide ? 150 : 170, title, inner, {
      sizePx: wide ? 84 : 80,
      weight: 700,
      fill: p.ink,
      smallestPx: 44,
    }),
    await cardLine(
      m,
      wide ? 212 : 236,
      'delay without waiting, shortest first; whiskers: 95 % interval',
      inner,
      { sizePx: 38, weight: 400, fill: p.muted, smallestPx: 28 },
    ),
  ];
  const top = wide ? 262 : 300;
  const bottom = heightPx - (wide ? 236 : 290);
  const rowPx = Math.min(wide ? 150 : 190, (bottom - top) / Math.max(1, rows.length));
  const labelPx = wide ? 780 : inner;
  const left = wide ? m + labelPx + 30 : m;
  const x = scaleLinear()
    .domain(boardDomainMs(rows))
    .range([left, widthPx - m]);
  for (const [i, row] of rows.entries()) {
    const y = top + i * rowPx;
    parts.push(wide ? await wideRow(row, m, y, rowPx, labelPx, p) : await tallRow(row, m, y, inner, p));
    const barPx = wide ? Math.min(44, rowPx * 0.34) : Math.min(44, rowPx * 0.26);
    const barY = wide ? y + rowPx * 0.22 : y + 82;
    parts.push(delayBarSvg(barOf(row), x, barY, barPx, p));
  }
  const axisY = top + rows.length * rowPx + 10;
  for (const tick of x.ticks(wide ? 6 : 5)) {
    parts.push(
      html`<path d="M${short(x(tick), 2)} ${axisY}v12" stroke="${p.muted}" stroke-width="3" fill="none"/>`
        .text,
    );
    const anchor = !wide && x(tick) - m < 30 ? 'start' : 'middle';
    parts.push(
      await cardLine(x(tick), axisY + 48, tick === 0 ? '0 ms' : short(tick), 130, {
        sizePx: 32,
        weight: 400,
        fill: p.muted,
        anchor,
      }),
    );
  }
  const more = all.length - rows.length;
  const notes = [
    ...(more > 0 ? [`and ${counted(more, 'more group', 'more groups')} on the board`] : []),
    counted(
      all.reduce((sum, row) => sum + row.group.n, 0),
      'press',
      'presses',
    ),
    counted(comparison.clips.length, 'clip', 'clips'),
    ZERO_WORDS[comparison.zeroCheck.status],
    `lagreel ${plainText(comparison.tool.version)}`,
  ];
  const footer = await cardText(m, heightPx - (wide ? 50 : 92), notes.join(' · '), inner, wide ? 1 : 2, {
    sizePx: 34,
    weight: 400,
    fill: p.muted,
  });
  parts.push(
    html`<path d="M${m} ${heightPx - (wide ? 104 : 150)}H${widthPx - m}" stroke="${p.line}" stroke-width="3" fill="none"/>`
      .text,
    footer.markup,
  );
  const description = all
    .map((row) => `${row.rank}. ${row.title}: ${row.headline}, ${LAG_WORDS[row.lag].word}.`)
    .join(' ');
  return cardSheet(ground, parts, title, description);
}

function barOf(row: BoardRow): Parameters<typeof delayBarSvg>[0] {
  return {
    lag: row.lag,
    delayMs: row.headlineMs,
    intervalMs: row.intervalMs,
    spreadMs: row.spreadMs,
    latenciesMs: row.group.latencies.map((l) => l.ms),
  };
}

type Colours = Parameters<typeof delayBarSvg>[4];

async function wideRow(
  row: BoardRow,
  m: number,
  y: number,
  rowPx: number,
  labelPx: number,
  p: Colours,
): Promise<string> {
  const figurePx = 270;
  const nameX = m + 74;
  return [
    html`${lagSign(row.lag, m + 26, y + rowPx * 0.42, 52)}`.text,
    await cardLine(nameX, y + rowPx * 0.38, row.title, labelPx - 74 - figurePx - 20, {
      sizePx: 46,
      weight: 600,
      fill: p.ink,
      smallestPx: 32,
    }),
    await cardLine(nameX, y + rowPx * 0.38 + 42, addedLine(row), labelPx - 74 - figurePx - 20, {
      sizePx: 32,
      weight: 400,
      fill: p.muted,
      smallestPx: 26,
    }),
    await cardLine(m + labelPx, y + rowPx * 0.42, row.headline, figurePx, {
      sizePx: 58,
      weight: 700,
      fill: p.accent,
      anchor: 'end',
    }),
    await cardLine(m + labelPx, y + rowPx * 0.42 + 40, LAG_WORDS[row.lag].word, figurePx, {
      sizePx: 32,
      weight: 600,
      fill: p.ink,
      anchor: 'end',
    }),
  ].join('');
}

async function tallRow(row: BoardRow, m: number, y: number, inner: number, p: Colours): Promise<string> {
  const figurePx = 420;
  return [
    html`${lagSign(row.lag, m + 24, y + 38, 48)}`.text,
    await cardLine(m + 66, y + 54, row.title, inner - 66 - figurePx - 20, {
      sizePx: 46,
      weight: 600,
      fill: p.ink,
      smallestPx: 32,
    }),
    await cardLine(m + inner, y + 54, `${LAG_WORDS[row.lag].word} · ${row.headline}`, figurePx, {
      sizePx: 42,
      weight: 700,
      fill: p.accent,
      anchor: 'end',
      smallestPx: 30,
    }),
  ].join('');
}

function addedLine(row: BoardRow): string {
  if (row.isBaseline) return 'baseline';
  return row.comparison?.addedMs == null
    ? `${counted(row.group.n, 'press', 'presses')}`
    : `${row.added.split(' (')[0]} against the baseline`;
}
