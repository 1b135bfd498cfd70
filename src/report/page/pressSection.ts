/** The presses in the report: one table of all, then the evidence of each. */
import type { Evidence, EvidenceStrip } from '../../record/evidence.js';
import type { ClipRecord, PressRecord, ResponseRecord } from '../../record/record.js';
import { countsText, displayFramesText, pressCounts, summaryOf } from '../headline.js';
import { asMarkup, html, type Markup } from '../markup.js';
import { counted, fixed, msText, withUncertainty } from '../numberText.js';
import { cropSheet } from '../pictures/cropSheet.js';
import { type EvidenceRow, evidencePlot } from '../plots/evidencePlot.js';

/** A status with a sign of its own, so that no meaning hangs on colour. */
const SIGNS: Readonly<Record<string, readonly [sign: string, words: string]>> = {
  measured: ['●', 'measured'],
  'no-response': ['○', 'no response'],
  ambiguous: ['◇', 'ambiguous'],
  excluded: ['×', 'excluded'],
};

const OPEN_AT_MOST = 4;

function statusMarkup(status: string): Markup {
  const [sign, words] = SIGNS[status] ?? ['?', status];
  return html`<span class="status ${status}"><span aria-hidden="true">${sign}</span> ${words}</span>`;
}

/** `68.4 ± 0.9 ms`, or nothing. */
function latencyText(response: ResponseRecord | undefined): string {
  if (response?.latencyMs === undefined) return '';
  return response.uncertaintyMs === undefined
    ? msText(response.latencyMs)
    : withUncertainty(response.latencyMs, response.uncertaintyMs);
}

function pressRows(
  record: ClipRecord,
  press: PressRecord,
  regions: readonly string[],
  hasEvidence: boolean,
): Markup {
  const name = hasEvidence ? html`<a href="#press-${press.index}">${press.index}</a>` : html`${press.index}`;
  const rows = regions.map((region, i) => {
    const response = press.responses.find((r) => r.region === region);
    const status = press.status === 'excluded' ? 'excluded' : (response?.status ?? press.status);
    const frameMs = summaryOf(record, region)?.displayFrameMs ?? null;
    const frames =
      response?.latencyMs === undefined || frameMs === null ? '' : fixed(response.latencyMs / frameMs, 2);
    const flags = [...press.flags, ...(response?.flags ?? [])].map(
      (flag) => html`<span class="flag">${flag}</span>`,
    );
    const lead = i === 0 ? html`<th scope="rowgroup" rowspan="${regions.length}">${name}</th>` : null;
    const span = regions.length;
    const at = i === 0 ? html`<td class="number" rowspan="${span}">${fixed(press.ledOnsetS, 4)}</td>` : null;
    const reason = i === 0 ? html`<td class="words" rowspan="${span}">${press.reason ?? ''}</td>` : null;
    return html`<tr>${lead}<td class="name">${region}</td><td class="number">${latencyText(response)}</td><td>${statusMarkup(status)}</td><td class="number">${frames}</td>${at}<td class="flags">${flags}</td>${reason}</tr>`;
  });
  return html`<tbody>${rows}</tbody>`;
}

/** Table of all presses and regions. */
export function pressTable(record: ClipRecord, evidence: Evidence, regions: readonly string[]): Markup {
  const body = record.presses.map((press) =>
    pressRows(record, press, regions, (evidence.presses.get(press.index)?.length ?? 0) > 0),
  );
  const unprompted = record.unprompted.map((u) => html`<li>${u.region} at ${fixed(u.onsetS, 4)} s</li>`);
  return html`<section id="presses"><h2>Presses</h2><p>${countsText(pressCounts(record))}. Latencies as value ± U with U = 2 u (about 95 %).</p>${
    record.presses.length === 0
      ? html`<p>No press was seen.</p>`
      : html`<div class="scroll" tabindex="0" role="region" aria-label="Table of presses"><table class="grouped"><thead><tr><th scope="col">press</th><th scope="col">region</th><th scope="col" class="number">latency ± U</th><th scope="col">status</th><th scope="col" class="number">display frames</th><th scope="col" class="number">pressed at, s</th><th scope="col">flags</th><th scope="col">reason</th></tr></thead>${body}</table></div>`
  }${
    unprompted.length === 0
      ? null
      : html`<details><summary>${counted(unprompted.length, 'change', 'changes')} of a screen without a press</summary><ul>${unprompted}</ul></details>`
  }</section>`;
}

function evidenceRow(strip: EvidenceStrip, found: string, periodS: number): EvidenceRow {
  return {
    region: strip.region,
    found,
    columns: strip.columns,
    rows: strip.rows,
    frames: strip.frames,
    runs: cropSheet(strip, periodS),
    fitted: strip.fitted,
    onsetS: strip.onsetS,
    onsetIntervalS: strip.onsetIntervalS,
  };
}

/** The evidence of one press as SVG; colours come from the page's style sheet. */
export function pressEvidencePlot(
  record: ClipRecord,
  press: PressRecord,
  strips: readonly EvidenceStrip[],
): string {
  const periodS = 1 / record.timing.captureRateHz;
  const rows = strips
    .filter((strip) => strip.frames.length > 0)
    .map((strip, i) => {
      const response = press.responses.find((r) => r.region === strip.region);
      const frameMs = summaryOf(record, strip.region)?.displayFrameMs ?? null;
      const latency = latencyText(response);
      const frames = response?.latencyMs === undefined ? '' : displayFramesText(response.latencyMs, frameMs);
      const answer = [latency, frames].filter((t) => t !== '').join(', ');
      const isPress = i === 0 && response === undefined;
      const status = SIGNS[response?.status ?? press.status]?.[1] ?? press.status;
      const found = isPress ? `press ± ${fixed(2 * press.ledOnsetUncertaintyMs, 2)} ms` : answer || status;
      return evidenceRow(strip, found, periodS);
    });
  return evidencePlot({
    id: `evidence-${press.index}`,
    title: `Evidence for press ${press.index}`,
    rows,
    periodS,
    pressAtS: press.ledOnsetS,
    level: record.recipe.response.level,
  });
}

function pressEvidence(
  record: ClipRecord,
  press: PressRecord,
  strips: readonly EvidenceStrip[],
  open: boolean,
): Markup {
  const plot = pressEvidencePlot(record, press, strips);
  const answers = press.responses.map(
    (r) =>
      html`<span class="muted"> · ${r.region} </span><span class="keep">${latencyText(r) || SIGNS[r.status]?.[1]}</span>`,
  );
  const reason = press.reason === undefined ? null : html`<p class="small">${press.reason}</p>`;
  return html`<details${open ? html` open=""` : null}><summary>Press ${press.index} ${press.status === 'measured' ? null : html`<span>${statusMarkup(press.status)}</span>`}<span>${answers}</span></summary><div class="press-sheet" id="press-${press.index}">${reason}<div class="scroll" tabindex="0" role="region" aria-label="Evidence for press ${press.index}">${asMarkup(plot)}</div></div></details>`;
}

/** The evidence of every press that has any. */
export function evidenceSection(record: ClipRecord, evidence: Evidence): Markup {
  const shown = record.presses.filter((press) => (evidence.presses.get(press.index)?.length ?? 0) > 0);
  if (shown.length === 0) {
    return html`<section id="evidence"><h2>Evidence</h2><p>This report was made without the pictures of the clip.</p></section>`;
  }
  const level = fixed(100 * record.recipe.response.level, 0);
  const presses = shown.map((press, i) =>
    pressEvidence(record, press, evidence.presses.get(press.index) ?? [], i < OPEN_AT_MOST),
  );
  return html`<section id="evidence"><h2>Evidence</h2><p>What the camera saw around each press: every cell is one camera frame of a region. Below it stand the trace (dots, one for each camera frame, 0 before the change and 1 after it), the fitted curve, and the onset (marker) with its 95 % interval (band). The dotted line is the level that counts as response, ${level} % of the change in light.</p><div class="press-list">${presses}</div></section>`;
}
