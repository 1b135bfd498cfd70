/** One screen region in the report: four plots, its statistics and its uncertainty budget. */
import type { BudgetComponent, ClipRecord, ResponseRecord, SummaryRecord } from '../../record/record.js';
import { summaryOf } from '../headline.js';
import { asMarkup, html, type Markup } from '../markup.js';
import { counted, decimalsFor, fixed } from '../numberText.js';
import { budgetBars } from '../plots/budgetBars.js';
import { cumulativePlot } from '../plots/cumulativePlot.js';
import { histogram } from '../plots/histogram.js';
import { pressPlot } from '../plots/pressPlot.js';
import { stripPlot } from '../plots/stripPlot.js';
import type { WaitShape } from '../plots/waitCurve.js';

const rootMeanSquare = (values: readonly number[]): number =>
  values.length === 0 ? 0 : Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length);

/** The responses of one region that count: measured, in presses that are not excluded. */
export function measuredResponses(record: ClipRecord, region: string): readonly ResponseRecord[] {
  return record.presses
    .filter((press) => press.status !== 'excluded')
    .flatMap((press) => press.responses)
    .filter((r) => r.region === region && r.status === 'measured' && r.latencyMs !== undefined);
}

/** The wait model of a summary as a curve: jitter and the typical measurement uncertainty blur it together. */
export function waitShapeOf(
  summary: SummaryRecord | null,
  responses: readonly ResponseRecord[],
): WaitShape | null {
  const model = summary?.waitModel ?? null;
  if (model === null) return null;
  const typicalMs = rootMeanSquare(responses.map((r) => r.uncertaintyMs ?? 0));
  return {
    fixedDelayMs: model.fixedDelayMs,
    periodMs: model.periodMs,
    spreadMs: Math.hypot(model.jitterMs, typicalMs),
  };
}

/** The budget of a typical press: each component's root mean square over the responses that name it, ms. */
export function typicalBudget(responses: readonly ResponseRecord[]): readonly BudgetComponent[] {
  const byName = new Map<string, BudgetComponent[]>();
  for (const component of responses.flatMap((r) => r.budget ?? [])) {
    byName.set(component.name, [...(byName.get(component.name) ?? []), component]);
  }
  const withBudget = responses.filter((r) => r.budget !== undefined).length;
  return [...byName.values()].map((same) => {
    const sum = same.reduce((s, c) => s + c.standardUncertaintyMs ** 2, 0);
    return { ...same[0]!, standardUncertaintyMs: Math.sqrt(sum / Math.max(1, withBudget)) };
  });
}

function figure(title: string, note: string, plot: string): Markup {
  return html`<figure><figcaption>${title}<span>${note}</span></figcaption>${asMarkup(plot)}</figure>`;
}

function statisticsTable(s: SummaryRecord, region: string): Markup {
  const frameMs = s.displayFrameMs;
  const decimals = Math.max(1, decimalsFor(2 * s.commonUncertaintyMs));
  const row = (name: string, valuesMs: readonly number[] | null): Markup => {
    const shown = (unitMs: number, places: number): string =>
      valuesMs === null ? 'n/a' : valuesMs.map((ms) => fixed(ms / unitMs, places)).join(' to ');
    const inFrames = frameMs === null ? null : html`<td class="number">${shown(frameMs, 2)}</td>`;
    return html`<tr><th scope="row">${name}</th><td class="number">${shown(1, decimals)}</td>${inFrames}</tr>`;
  };
  const q = s.quantilesMs;
  const level = s.medianConfidence === null ? '' : `${fixed(100 * s.medianConfidence, 1)} % `;
  const frames = frameMs === null ? null : html`<th scope="col" class="number">display frames</th>`;
  return html`<div class="scroll narrow" tabindex="0" role="region" aria-label="Statistics of region ${region}"><table><caption>${counted(s.n, 'latency', 'latencies')}. Quantiles after Hyndman and Fan, type 8.${frameMs === null ? ' The refresh of the display is not known, so nothing in display frames.' : null}</caption><thead><tr><th scope="col">statistic</th><th scope="col" class="number">ms</th>${frames}</tr></thead><tbody>${[
    row('fastest', [s.minimumMs]),
    row('5 % of presses within', [q.p05]),
    row('25 %', [q.p25]),
    row('median', [s.medianMs]),
    row(`${level}interval of the median`, s.medianIntervalMs),
    row('75 %', [q.p75]),
    row('95 %', [q.p95]),
    row('slowest', [s.maximumMs]),
    row('mean', [s.meanMs]),
    row('standard deviation', s.sdMs === null ? null : [s.sdMs]),
    row('screen response, 10 % to 90 %', s.responseTimeMs === null ? null : [s.responseTimeMs]),
  ]}</tbody></table></div>`;
}

/** Distribution and latency against press number of one region. `key`: prefix of ids, unique in the page. */
export function regionSection(record: ClipRecord, region: string, key: string): Markup {
  const summary = summaryOf(record, region);
  const responses = measuredResponses(record, region);
  if (summary === null) {
    return html`<section id="${key}"><h2>Region ${region}</h2><p>No latency was measured here; the table of presses says why for each.</p></section>`;
  }
  const valuesMs = responses.map((r) => r.latencyMs ?? 0);
  const shape = waitShapeOf(summary, responses);
  const model = summary.waitModel;
  const strip = stripPlot({
    id: `${key}-strip`,
    title: `Latencies of region ${region}`,
    points: responses.map((r) => ({ valueMs: r.latencyMs ?? 0, intervalMs: r.intervalMs ?? null })),
    median: { valueMs: summary.medianMs, intervalMs: summary.medianIntervalMs },
    wait: model,
  });
  const byPress = pressPlot({
    id: `${key}-presses`,
    title: `Latency against press number, region ${region}`,
    presses: record.presses.map((press) => {
      const response = press.responses.find((r) => r.region === region);
      const status = press.status === 'excluded' ? 'excluded' : (response?.status ?? press.status);
      return {
        index: press.index,
        status,
        latencyMs: response?.latencyMs ?? null,
        intervalMs: response?.intervalMs ?? null,
      };
    }),
    medianMs: summary.medianMs,
    explainedMs: model === null ? null : [model.fixedDelayMs, model.fixedDelayMs + model.periodMs],
  });
  const counts = histogram({
    id: `${key}-counts`,
    title: `Histogram of latencies, region ${region}`,
    valuesMs,
    model: shape,
  });
  const cumulative = cumulativePlot({
    id: `${key}-within`,
    title: `Share of presses answered within a time, region ${region}`,
    valuesMs,
    model: shape,
  });
  return html`<section id="${key}"><h2>Region ${region}</h2><div class="plots">${[
    figure('Every press', 'Each dot is one press with its 95 % interval; height has no meaning.', strip),
    figure('In the order of pressing', 'A slope would mean drift. Line: median.', byPress),
    figure('How often', 'Dashed: what fixed delay, wait and jitter would give.', counts),
    figure('Answered within', 'Where the two curves agree, the wait explains the spread.', cumulative),
  ]}</div>${statisticsTable(summary, region)}</section>`;
}

/** Uncertainty budget of one region as table and bars; null where no response has one. */
export function budgetSection(record: ClipRecord, region: string, key: string): Markup | null {
  const components = typicalBudget(measuredResponses(record, region));
  if (components.length === 0) return null;
  const combinedMs = Math.hypot(...components.map((c) => c.standardUncertaintyMs));
  const bars = budgetBars({
    id: `${key}-budget`,
    title: `Uncertainty budget, region ${region}`,
    bars: components,
    combinedMs,
  });
  const rows = components.map(
    (c) =>
      html`<tr><th scope="row">${c.name}</th><td class="number">${fixed(c.standardUncertaintyMs, 3)}</td><td>${c.type}</td><td>${c.common ? 'common' : 'each press'}</td></tr>`,
  );
  return html`<h3>Region ${region}</h3><div class="two"><figure class="sheet"><figcaption>Standard uncertainties<span>Filled: type A (from scatter). Hatched: type B (from other knowledge).</span></figcaption>${asMarkup(bars)}</figure><div class="scroll" tabindex="0" role="region" aria-label="Uncertainty budget of region ${region}"><table><thead><tr><th scope="col">component</th><th scope="col" class="number">u, ms</th><th scope="col">type</th><th scope="col">shared</th></tr></thead><tbody>${rows}<tr><th scope="row">combined</th><td class="number">${fixed(combinedMs, 3)}</td><td></td><td>U (k = 2): ${fixed(2 * combinedMs, 2)} ms</td></tr></tbody></table></div></div>`;
}
