/** A card of one chain: the figure that a viewer should remember, and what it is worth. */
import { scaleLinear } from 'd3-scale';
import type { ClipRecord } from '../../record/record.js';
import { headlineOf, labelsOf, screenRegions, summaryOf } from '../headline.js';
import { LAG_WORDS, type LagKind, lagSign } from '../lagSign.js';
import { html } from '../markup.js';
import { counted, fixed, short } from '../numberText.js';
import { textWidthPx } from '../pictures/lettering.js';
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

/** The card of a region of a record (by default the first with an answer). */
export async function chainCard(
  record: ClipRecord,
  region: string | undefined,
  shape: CardShape,
  theme: CardTheme,
): Promise<Card> {
  const name =
    region ??
    screenRegions(record).find((r) => summaryOf(record, r) !== null) ??
    screenRegions(record)[0] ??
    '';
  const ground = cardGround(shape, theme);
  const { marginPx: m, widthPx, heightPx, palette: p } = ground;
  const inner = widthPx - 2 * m;
  const wide = shape === 'wide';
  const summary = summaryOf(record, name);
  const headline = headlineOf(record, name);
  const labels = Object.values(labelsOf(record, name))
    .map(plainText)
    .filter((v) => v !== '');
  const [title = plainText(record.clip.file), ...rest] = labels;
  const parts: string[] = [
    await cardLine(m, wide ? 168 : 190, title, inner, { sizePx: wide ? 104 : 100, weight: 700, fill: p.ink }),
    await cardLine(m, wide ? 236 : 258, [...rest, `region ${plainText(name)}`].join(' · '), inner, {
      sizePx: 44,
      weight: 400,
      fill: p.muted,
      smallestPx: 34,
    }),
  ];
  const figure = headline.main;
  const description = [title, headline.verdict];
  if (figure === null || summary === null) {
    const words = await cardText(m, heightPx / 2, headline.verdict, inner, 4, {
      sizePx: 72,
      weight: 600,
      fill: p.ink,
    });
    parts.push(words.markup);
  } else {
    const lag: LagKind = summary.waitModel?.lag ?? 'undecided';
    const bigPx = wide ? 276 : 290;
    const bigY = wide ? 482 : 620;
    const number = figure.value.replace(/ ms$/, '');
    const numberPx = await textWidthPx(number, bigPx, 700);
    parts.push(
      await cardLine(m - 8, bigY, number, inner * 0.72, { sizePx: bigPx, weight: 700, fill: p.accent }),
      await cardLine(m + Math.min(numberPx, inner * 0.72) + 26, bigY, 'ms', 220, {
        sizePx: 110,
        weight: 400,
        fill: p.accent,
      }),
    );
    const note = figure.note.split('; ')[0] ?? '';
    parts.push(
      await cardLine(m, bigY + (wide ? 70 : 84), `${figure.label}, ${note}`, wide ? inner * 0.62 : inner, {
        sizePx: 46,
        weight: 400,
        fill: p.ink,
        smallestPx: 34,
      }),
    );
    const kindX = wide ? m + inner * 0.66 : m;
    const kindY = wide ? 380 : 800;
    parts.push(
      html`${lagSign(lag, kindX + 50, kindY, 100)}`.text,
      await cardLine(kindX + 130, kindY + 4, LAG_WORDS[lag].word, widthPx - m - kindX - 130, {
        sizePx: 76,
        weight: 700,
        fill: p.ink,
      }),
      await cardLine(kindX + 130, kindY + 60, LAG_WORDS[lag].meaning, widthPx - m - kindX - 130, {
        sizePx: 40,
        weight: 400,
        fill: p.muted,
        smallestPx: 30,
      }),
    );
    const latenciesMs = record.presses
      .filter((press) => press.status === 'measured')
      .flatMap((press) => press.responses.filter((r) => r.region === name).flatMap((r) => r.latencyMs ?? []));
    const model = summary.waitModel;
    const spreadMs: readonly [number, number] =
      lag === 'fixed' && model !== null
        ? [model.fixedDelayMs, model.fixedDelayMs + model.periodMs]
        : [summary.quantilesMs.p05, summary.quantilesMs.p95];
    const most = Math.max(1, summary.maximumMs, spreadMs[1], model?.intervalMs[1] ?? 0) * 1.04;
    const x = scaleLinear()
      .domain([Math.min(0, summary.minimumMs), most])
      .range([m, widthPx - m]);
    const barY = wide ? 606 : 1010;
    const barPx = wide ? 56 : 84;
    parts.push(
      delayBarSvg(
        {
          lag,
          delayMs: model?.fixedDelayMs ?? summary.medianMs,
          intervalMs: model?.intervalMs ?? summary.medianIntervalMs,
          spreadMs,
          latenciesMs,
        },
        x,
        barY,
        barPx,
        p,
      ),
    );
    const axisY = barY + barPx + 52;
    for (const tick of x.ticks(wide ? 8 : 5)) {
      parts.push(
        html`<path d="M${short(x(tick), 2)} ${axisY}v14" stroke="${p.muted}" stroke-width="3" fill="none"/>`
          .text,
      );
      const anchor = x(tick) - m < 30 ? 'start' : 'middle';
      parts.push(
        await cardLine(x(tick), axisY + 54, tick === 0 ? '0 ms' : short(tick), 140, {
          sizePx: 36,
          weight: 400,
          fill: p.muted,
          anchor,
        }),
      );
    }
    const legend =
      lag === 'fixed'
        ? 'solid: fixed delay; hatched: wait for the next refresh; dots: presses'
        : 'range: nine presses of ten; dots: presses';
    parts.push(
      await cardLine(m, axisY + (wide ? 102 : 116), legend, inner, {
        sizePx: 34,
        weight: 400,
        fill: p.muted,
        smallestPx: 28,
      }),
    );
    const verdict = wide
      ? await cardText(m, 884, headline.verdict, inner, 2, { sizePx: 46, weight: 600, fill: p.ink })
      : await cardText(m, 1400, headline.verdict, inner, 5, { sizePx: 58, weight: 600, fill: p.ink });
    parts.push(verdict.markup);
    description.push(`${figure.label} ${figure.value}, ${note}; ${LAG_WORDS[lag].word}.`);
  }
  const footer = [
    counted(summary?.n ?? 0, 'press', 'presses'),
    `filmed at ${fixed(record.timing.captureRateHz, 0)} frames a second`,
    `clip ${record.fitness.class}`,
    `lagreel ${plainText(record.tool.version)}`,
  ].join(' · ');
  parts.push(
    html`<path d="M${m} ${heightPx - 100}H${widthPx - m}" stroke="${p.line}" stroke-width="3" fill="none"/>`
      .text,
    await cardLine(m, heightPx - 46, footer, inner, {
      sizePx: 36,
      weight: 400,
      fill: p.muted,
      smallestPx: 26,
    }),
  );
  return cardSheet(ground, parts, `Latency of ${title}`, description.join('. '));
}
