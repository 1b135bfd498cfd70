/** The report of one clip: one self-contained HTML file that asks no network for anything and needs no script. */
import type { Evidence } from '../record/evidence.js';
import type { ClipRecord } from '../record/record.js';
import { type Figure, type Headline, headlineOf, screenRegions } from './headline.js';
import { asMarkup, html, type Markup } from './markup.js';
import { clipSection, provenanceSection, worrySection } from './page/clipSection.js';
import { pageStyle } from './page/pageStyle.js';
import { evidenceSection, pressTable } from './page/pressSection.js';
import { budgetSection, regionSection } from './page/regionSection.js';
import { cspHash } from './styleHash.js';

const FITNESS: Readonly<Record<string, readonly [kind: string, sign: string]>> = {
  fit: ['fit', '●'],
  'usable with care': ['care', '▲'],
  unfit: ['unfit', '■'],
};

function bigFigure(main: Figure): Markup {
  const split = main.value.lastIndexOf(' ');
  const [interval, ...rest] = main.note.split('; ');
  return html`<p class="big"><b>${main.value.slice(0, split)}</b><span class="unit">${main.value.slice(split + 1)}</span></p><p class="big-name">${main.label} <span>${[interval, ...rest].join(' · ')}</span></p>`;
}

function answer(headline: Headline): Markup {
  const figures = headline.others.map(
    (f) =>
      html`<div><dt>${f.label}</dt><dd><span class="value">${f.value}</span> <div class="note">${f.note}</div></dd></div>`,
  );
  const labels = headline.labels.length === 0 ? null : html` <span>${headline.labels.join(' · ')}</span>`;
  return html`<article class="answer"><h2>${headline.region}${labels}</h2>${headline.main === null ? null : bigFigure(headline.main)}<p class="verdict">${headline.verdict}</p>${figures.length === 0 ? null : html`<dl class="figures">${figures}</dl>`}</article>`;
}

const glossary: readonly (readonly [string, string])[] = [
  [
    'latency',
    'from the LED lighting up to the screen region reaching the stated share of its change in light',
  ],
  [
    'wait',
    'the part of a latency that is only waiting for the next input poll or refresh; luck of the moment, not a fault of the chain',
  ],
  ['fixed delay', 'what remains without the wait: the fastest that this chain can be'],
  ['jitter', 'spread (standard deviation) that neither the wait nor the camera explains'],
  ['camera frame, display frame', 'one picture of the filming camera; one refresh of the screen under test'],
  ['U (k = 2)', 'expanded uncertainty: twice the standard uncertainty, about 95 % coverage'],
];

/**
 * The report as HTML text. All strings of the record are escaped; the only pictures are `data:` addresses; the
 * content security policy forbids everything else and admits the one style sheet by its hash. Pure.
 * Throws `UsageError` where a crop of the evidence has the wrong size.
 */
export function renderReport(record: ClipRecord, evidence: Evidence): string {
  const regions = screenRegions(record);
  const shared = Object.values(record.recipe.labels);
  const name = shared.length > 0 ? shared.join(' · ') : record.clip.file;
  const [kind, sign] = FITNESS[record.fitness.class] ?? ['care', '?'];
  const headlines = regions.map((region) => headlineOf(record, region));
  const ownLabels = (region: string): boolean =>
    Object.keys(record.recipe.regions.find((r) => r.name === region)?.labels ?? {}).length > 0;
  const keys = regions.map((_, i) => `region-${i + 1}`);
  const budgets = regions
    .map((region, i) => budgetSection(record, region, keys[i] ?? ''))
    .filter((b) => b !== null);
  const policy = `default-src 'none'; img-src data:; style-src '${cspHash(pageStyle)}'; base-uri 'none'; form-action 'none'`;
  const links: readonly (readonly [string, string])[] = [
    ['worries', 'What to worry about'],
    ...regions.map((region, i): [string, string] => [keys[i] ?? '', `Region ${region}`]),
    ['presses', 'Presses'],
    ['evidence', 'Evidence'],
    ['budget', 'Uncertainty'],
    ['clip', 'Clip'],
    ['provenance', 'Provenance'],
  ];
  const page = html`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8"/>
<meta http-equiv="Content-Security-Policy" content="${asMarkup(policy)}"/>
<meta name="viewport" content="width=device-width, initial-scale=1"/>
<meta name="referrer" content="no-referrer"/>
<meta name="color-scheme" content="light dark"/>
<link rel="icon" href="data:,"/>
<title>${name}: latency report</title>
<style>${asMarkup(pageStyle)}</style>
</head>
<body>
<header><div class="wrap"><p class="eyebrow">lagreel report · ${record.clip.file}</p><h1>${name}</h1><ul class="chips"><li class="${kind}"><span aria-hidden="true">${sign}</span> ${record.fitness.class}</li>${Object.entries(record.recipe.labels).map(([label, value]) => html`<li><span class="muted">${label}</span> ${value}</li>`)}</ul><nav aria-label="Sections">${links.map(([id, words]) => html`<a href="#${id}">${words}</a> `)}</nav></div></header>
<main class="wrap">
<section class="answers" aria-label="The answer">${headlines.map((h, i) => answer(ownLabels(regions[i] ?? '') ? h : { ...h, labels: [] }))}${regions.length === 0 ? html`<p>The recipe names no screen region, so there is no latency.</p>` : null}</section>
${worrySection(record)}
${regions.map((region, i) => regionSection(record, region, keys[i] ?? ''))}
${pressTable(record, evidence, regions)}
${evidenceSection(record, evidence)}
<section id="budget"><h2>Uncertainty of a typical press</h2><p>Parts of the uncertainty of one latency, after the GUM (JCGM 100:2008), as root mean square over the presses. Common parts do not shrink with more presses.</p>${budgets.length === 0 ? html`<p>No latency, so no budget.</p>` : budgets}</section>
${clipSection(record, evidence)}
${provenanceSection(record)}
<section id="words"><h2>Words</h2><dl class="facts">${glossary.map(([word, meaning]) => html`<dt>${word}</dt><dd>${meaning}</dd>`)}</dl></section>
</main>
<footer><div class="wrap">Made by ${record.tool.name} ${record.tool.version}. This file is complete in itself: it loads nothing and runs no script.</div></footer>
</body>
</html>
`;
  return page.text;
}
