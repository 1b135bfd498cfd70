/** The clip in the report: what to worry about, the picture with its regions, the facts, and where it all came from. */
import type { Evidence } from '../../record/evidence.js';
import type { ClipRecord } from '../../record/record.js';
import { evidenceText } from '../evidenceText.js';
import { shutterText, timingText, worries } from '../headline.js';
import { escapeLines, html, type Markup, type MarkupValue } from '../markup.js';
import { bytesText, counted, fixed } from '../numberText.js';
import { pictureAddress } from '../pictures/greyPng.js';

const SEVERITY: Readonly<Record<string, string>> = {
  note: 'Note',
  care: '▲ Take care',
  unfit: '■ Not fit to measure',
};

function facts(rows: readonly (readonly [name: string, value: MarkupValue])[]): Markup {
  return html`<dl class="facts">${rows.map(([name, value]) => html`<dt>${name}</dt><dd>${value}</dd>`)}</dl>`;
}

/** Fitness reasons and warnings, worst first. */
export function worrySection(record: ClipRecord): Markup {
  const list = worries(record);
  const items = list.map(
    (w) => html`<li class="${w.severity}"><b>${SEVERITY[w.severity] ?? w.severity}</b>${w.text}</li>`,
  );
  return html`<section id="worries"><h2>What to worry about, and what to film differently</h2>${
    items.length === 0
      ? html`<p>Nothing: the clip is ${record.fitness.class} and gave no warning.</p>`
      : html`<ul class="worries">${items}</ul>`
  }</section>`;
}

/** Overview picture, regions, and facts of clip and clock. */
export function clipSection(record: ClipRecord, evidence: Evidence): Markup {
  const { clip, timing, recipe } = record;
  const names = recipe.regions.map((r) => r.name).join(', ');
  const picture =
    evidence.overviewJpeg === null
      ? html`<p class="muted">No overview picture was made.</p>`
      : html`<figure><img src="${pictureAddress(evidence.overviewJpeg, 'image/jpeg')}" alt="A picture of the clip with its regions outlined: ${names}"/></figure>`;
  const regions = recipe.regions.map(
    (r) =>
      html`<tr><th scope="row">${r.name}</th><td>${r.role}</td><td class="number">${r.x}, ${r.y}</td><td class="number">${r.width} × ${r.height}</td></tr>`,
  );
  const known = facts([
    ['file', clip.file],
    [
      'picture',
      `${clip.width} × ${clip.height} px, ${clip.pixelFormat}, ${clip.range} range, ${clip.transfer}`,
    ],
    ['rotation', `${clip.rotationDeg}°`],
    ['stream', `${clip.codec} in ${clip.container}, ${bytesText(clip.bytes)}`],
    ['length', `${clip.frames} camera frames, ${fixed(clip.durationS, 3)} s while filming`],
    ['clock', timingText(record)],
    ['shutter', shutterText(record)],
    [
      'timestamps',
      `resolved to ${fixed(timing.tickMs, 4)} ms, ${fixed(timing.irregularityMs, 4)} ms from an even grid (RMS)`,
    ],
    ...Object.entries(record.fitness.evidence ?? {}).map(([name, e]): readonly [string, MarkupValue] => [
      `light of ${name}`,
      evidenceText(e),
    ]),
    [
      'display',
      recipe.display.refreshHz === null
        ? 'refresh not stated'
        : `${fixed(recipe.display.refreshHz, 2)} Hz stated`,
    ],
  ]);
  return html`<section id="clip"><h2>Clip</h2><div class="two"><div>${picture}<div class="scroll" tabindex="0" role="region" aria-label="Regions"><table><caption>Regions in px of the upright picture. Outlines: LED solid, screen dashed, reference dotted.</caption><thead><tr><th scope="col">region</th><th scope="col">role</th><th scope="col" class="number">x, y</th><th scope="col" class="number">size</th></tr></thead><tbody>${regions}</tbody></table></div></div>${known}</div></section>`;
}

/** Versions, hash, and the recipe in full. */
export function provenanceSection(record: ClipRecord): Markup {
  const { tool, clip, recipe } = record;
  const decisions = counted(recipe.decisions.length, 'decision', 'decisions');
  return html`<section id="provenance"><h2>Provenance</h2><p>The same clip, recipe and version give the same figures again.</p><div class="two">${facts(
    [
      ['measured by', `${tool.name} ${tool.version}`],
      ['decoded by', tool.ffmpeg],
      ['clip SHA-256', html`<code>${clip.sha256}</code>`],
      ['clip size', `${clip.bytes} bytes`],
      ['record', `${record.format} ${record.version}`],
    ],
  )}</div><details><summary>Recipe in full <span class="muted">· ${counted(recipe.regions.length, 'region', 'regions')}, ${decisions}</span></summary><pre>${escapeLines(JSON.stringify(recipe, null, 2))}</pre></details></section>`;
}
