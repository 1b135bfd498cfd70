/** The board as one HTML file: complete in itself, no script, readable by keyboard, by ear and on paper. */
import type { Comparison } from '../../record/comparison.js';
import { LAG_WORDS, lagSign, signStyle } from '../lagSign.js';
import { asMarkup, html, type Markup } from '../markup.js';
import { fixed, intervalText, msText } from '../numberText.js';
import { pageStyle } from '../page/pageStyle.js';
import { plainText } from '../plainText.js';
import { cspHash } from '../styleHash.js';
import { boardPlot, boardPlotStyle } from './boardPlot.js';
import { type BoardRow, boardRows, boardWorries, orderCaution } from './boardRows.js';
import { boardTitle } from './boardTable.js';
import { relativeAddress } from './reportLink.js';
import { totalPlot, totalTitle } from './totalPlot.js';

const boardOwn = `
.glance{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,20rem),1fr));gap:1.2rem 2rem;align-items:start;margin:1.2rem 0 0}
.glance .board-plot{grid-column:span 2}
@media (max-width:54rem){.glance .board-plot{grid-column:auto}}
.board-plot .plot{max-width:40rem}
.name{min-width:7.5rem}
.groups{list-style:none;margin:1.2rem 0 0;padding:0;display:grid;gap:1rem;grid-template-columns:repeat(auto-fit,minmax(min(100%,20rem),1fr))}
.groups>li{background:var(--card);border:1px solid var(--line);border-radius:14px;padding:1.1rem 1.2rem;min-width:0;display:flex;flex-direction:column;gap:.45rem}
.groups h3{margin:0;font-size:1.15rem;overflow-wrap:anywhere}
.groups h3 .rank{color:var(--muted);font-weight:400;margin-right:.4em}
.groups p{margin:0}
.kind{display:grid;grid-template-columns:1.25em 1fr;align-items:start;gap:.1em .5em;font-weight:600}
.kind svg{margin-top:.15em}
.kind svg{flex:none;width:1.25em;height:1.25em;overflow:visible}
.kind span span{display:block;font-weight:400;color:var(--muted);font-size:.92em;line-height:1.35}
.groups .value{font-size:2rem;line-height:1.1;font-weight:650;letter-spacing:-.03em;color:var(--accent)}
.reports{list-style:none;margin:auto 0 0;padding:.4rem 0 0;display:flex;flex-wrap:wrap;gap:.15rem 1rem;font-size:.92rem;border-top:1px solid var(--line)}
.reports a{display:inline-block;padding:.25rem 0;overflow-wrap:anywhere}
.check{display:flex;gap:.8rem;align-items:baseline;margin:1rem 0 0;max-width:48rem}
.check b{flex:none;border:1.5px solid currentColor;border-radius:99px;padding:.05rem .7rem;font-size:.9rem}
.check.passed b{color:var(--ok)}.check.failed b{color:var(--warn)}.check.missing b{color:var(--model)}
.legend{display:grid;gap:.7rem;margin:0;padding:0;list-style:none;font-size:.95rem}
.legend h3{margin:0 0 .2rem}
`.trim();

/** Style of the board; it stands in the page unchanged, admitted by its hash. */
export const boardStyle: string = [
  pageStyle,
  boardPlotStyle,
  signStyle('var(--ink)', 'var(--card)'),
  boardOwn,
].join('\n');

/**
 * The board as HTML text. Every string of the comparison is escaped; links are relative. Pure.
 * @param linkTo relative path from the board to a file named in the comparison; default unchanged.
 */
export function boardHtml(comparison: Comparison, linkTo: (path: string) => string = (p) => p): string {
  const rows = boardRows(comparison);
  const title = boardTitle(comparison);
  const policy = `default-src 'none'; img-src data:; style-src '${cspHash(boardStyle)}'; base-uri 'none'; form-action 'none'`;
  const caution = orderCaution(rows);
  return html`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8"/>
<meta http-equiv="Content-Security-Policy" content="${asMarkup(policy)}"/>
<meta name="viewport" content="width=device-width, initial-scale=1"/>
<meta name="referrer" content="no-referrer"/>
<meta name="color-scheme" content="light dark"/>
<link rel="icon" href="data:,"/>
<title>${title}: board</title>
<style>${asMarkup(boardStyle)}</style>
</head>
<body>
<header><div class="wrap"><p class="eyebrow">lagreel board</p><h1>${title}</h1><ul class="chips">${countChips(comparison, rows)}</ul><nav aria-label="Sections">${[
    ['groups', 'Groups'],
    ['check', 'Zero check'],
    ['figures', 'Figures'],
    ...(comparison.budget === null ? [] : [['budget', 'Thumb to eye']]),
    ['clips', 'Clips'],
    ['words', 'Words'],
  ].map(([id, words]) => html`<a href="#${id}">${words}</a> `)}</nav></div></header>
<main class="wrap">
${rows.length === 0 ? html`<section><p>No group was measured, so there is nothing to rank.</p></section>` : html`<section id="overview" aria-labelledby="overview-h"><h2 id="overview-h">At a glance</h2><div class="glance"><figure class="sheet board-plot"><figcaption>Shortest delay first<span>Bar: the delay without waiting, with its 95 % interval. Hatched: the wait for the next refresh. Open range: where nine presses of ten lie, where the lag is not fixed. Dots: presses.</span></figcaption>${asMarkup(boardPlot(rows, 'board'))}</figure><div><ul class="legend">${(['fixed', 'variable', 'undecided'] as const).map((kind) => html`<li>${kindMark(kind)}</li>`)}</ul>${caution === null ? null : html`<p>${caution}</p>`}</div></div></section>`}
<section id="groups" aria-labelledby="groups-h"><h2 id="groups-h">Groups</h2><ol class="groups">${rows.map((row) => groupItem(row, linkTo))}</ol></section>
${checkSection(comparison, linkTo)}
${figuresSection(comparison, rows)}
${budgetSection(comparison)}
${clipsSection(comparison, linkTo)}
${worriesSection(comparison)}
<section id="words"><h2>Words</h2><dl class="facts"><dt>fixed delay</dt><dd>what the chain takes without any waiting: the fastest possible press</dd><dt>wait</dt><dd>from the press to the next moment at which it can be taken up, nothing to one refresh</dd><dt>fixed, variable</dt><dd>the same for every press, or wandering from press to press by more than wait and camera explain</dd><dt>95 % interval</dt><dd>should hold the true value 19 times in 20</dd><dt>zero check</dt><dd>a second LED on the same switch in place of the screen: it must give a latency of zero</dd></dl></section>
</main>
<footer><div class="wrap">Made by ${comparison.tool.name} ${comparison.tool.version}. This file is complete in itself: it loads nothing and runs no script.</div></footer>
</body>
</html>
`.text;
}

function countChips(comparison: Comparison, rows: readonly BoardRow[]): Markup {
  const presses = rows.reduce((sum, row) => sum + row.group.n, 0);
  const chip = (text: string): Markup => html`<li>${text}</li>`;
  const baseline = comparison.baseline === null ? null : Object.values(comparison.baseline).join(', ');
  return html`${chip(`${rows.length} groups`)}${chip(`${comparison.clips.length} clips`)}${chip(`${presses} presses`)}${baseline === null ? null : chip(`baseline ${baseline}`)}${chip(`counts as equal within ${comparison.marginMs} ms`)}`;
}

function kindMark(kind: BoardRow['lag']): Markup {
  const { word, meaning } = LAG_WORDS[kind];
  return html`<span class="kind"><svg viewBox="0 0 20 20" aria-hidden="true">${lagSign(kind, 10, 10, 18)}</svg><span>${word} <span>${meaning}</span></span></span>`;
}

function link(path: string, words: string, linkTo: (path: string) => string): Markup {
  const address = relativeAddress(linkTo(path));
  return address === null ? html`<span>${words}</span>` : html`<a href="${address}">${words}</a>`;
}

function groupItem(row: BoardRow, linkTo: (path: string) => string): Markup {
  const { group } = row;
  const clips = group.clips === 1 ? '1 clip' : `${group.clips} clips`;
  return html`<li><h3><span class="rank">${row.rank}.</span>${row.title}</h3><p class="value">${row.headline}</p><p class="small muted">${row.headlineKind}${row.intervalMs === null ? ', ' : ', 95 % interval '}${row.interval}</p><div>${kindMark(row.lag)}</div>${row.sentence === '' ? html`<p class="muted">${row.isBaseline ? 'The baseline that the others are compared with.' : 'Not compared.'}</p>` : html`<p>${row.sentence}</p>`}<p class="small muted">${row.spread}. ${group.n} presses in ${clips}.</p><ul class="reports" aria-label="Reports of ${row.title}">${row.clips.map((clip) => html`<li>${link(clip.report, clip.file, linkTo)}</li>`)}</ul></li>`;
}

function checkSection({ zeroCheck }: Comparison, linkTo: (path: string) => string): Markup {
  const word = { passed: 'passed', failed: 'failed', missing: 'none' }[zeroCheck.status];
  return html`<section id="check"><h2>Zero check</h2><p class="check ${zeroCheck.status}"><b>${word}</b><span>${zeroCheck.sentence}</span></p>${
    zeroCheck.clips.length === 0
      ? null
      : html`<ul>${zeroCheck.clips.map((clip) => html`<li>${link(reportOf(clip.record), clip.file, linkTo)}: ${msText(clip.meanMs, 2)} (${intervalText(clip.intervalMs, 2)}), ${clip.n} presses, ${clip.passed ? 'holds zero' : 'does not hold zero'}</li>`)}</ul>`
  }</section>`;
}

/** The report beside a record. */
function reportOf(record: string): string {
  return record.replace(/\.record\.json$/, '.report.html');
}

const HEADS = [
  'Lag',
  'Fixed delay, ms',
  '95 % interval, ms',
  'Display frames',
  'Median, ms',
  'Jitter, ms',
  'Added, ms',
  'Presses',
  'Clips',
];

function figuresSection({ betweenClips }: Comparison, rows: readonly BoardRow[]): Markup {
  const number = (value: number | null, decimals: number): string =>
    value === null ? 'none' : fixed(value, decimals);
  const cells = (row: BoardRow): string[] => [
    number(row.group.fixedDelayMs, 2),
    row.intervalMs === null ? 'none' : `${fixed(row.intervalMs[0], 2)} to ${fixed(row.intervalMs[1], 2)}`,
    number(row.group.fixedDelayDisplayFrames, 2),
    number(row.group.medianMs, 2),
    number(row.group.jitterMs, 2),
    row.added.replaceAll(' ms', ''),
    String(row.group.n),
    String(row.group.clips),
  ];
  return html`<section id="figures"><h2 id="figures-h">Figures</h2><p>${betweenClips.sentence}</p><div class="scroll" role="region" aria-labelledby="figures-h" tabindex="0"><table><caption>Delays without the wait, medians with it; intervals are 95 %</caption><thead><tr><th scope="col">Group</th>${HEADS.map((head, i) => html`<th scope="col"${i === 0 ? null : html` class="number"`}>${head}</th>`)}</tr></thead><tbody>${rows.map((row) => html`<tr><th scope="row" class="name">${row.title}</th><td>${LAG_WORDS[row.lag].word}</td>${cells(row).map((cell) => html`<td class="number">${cell}</td>`)}</tr>`)}</tbody></table></div></section>`;
}

function budgetSection({ budget }: Comparison): Markup | null {
  if (budget === null) return null;
  const stages = budget.stages.map(
    (s) => `${plainText(s.name)} ${fixed(s.valueMs, 1)} ± ${fixed(s.halfWidthMs, 1)} ms`,
  );
  const frames = (count: number | null): string => (count === null ? 'unknown' : fixed(count, 2));
  return html`<section id="budget"><h2 id="budget-h">Thumb to eye</h2><p>Measured latency and stages known from elsewhere: ${stages.join(', ')}. Nineteen presses of twenty lie between best and worst.</p><figure class="sheet board-plot"><figcaption>A typical press<span>Filled: the fixed delay. Hatched: the wait for the next refresh, half of one. Outlined: ${budget.stages.map((s) => plainText(s.name)).join(', then ')}. The line beneath reaches from best to worst.</span></figcaption>${asMarkup(totalPlot(budget, 'total'))}</figure><div class="scroll" role="region" aria-labelledby="budget-h" tabindex="0"><table><thead><tr><th scope="col">Group</th><th scope="col" class="number">Best, ms</th><th scope="col" class="number">Typical, ms</th><th scope="col" class="number">Worst, ms</th><th scope="col" class="number">Best, display frames</th><th scope="col" class="number">Typical, display frames</th><th scope="col" class="number">Worst, display frames</th></tr></thead><tbody>${budget.totals.map((t) => html`<tr><th scope="row" class="name">${totalTitle(budget, t)}</th>${[t.bestMs, t.typicalMs, t.worstMs].map((ms) => html`<td class="number">${fixed(ms, 1)}</td>`)}${[t.bestDisplayFrames, t.typicalDisplayFrames, t.worstDisplayFrames].map((count) => html`<td class="number">${frames(count)}</td>`)}</tr>`)}</tbody></table></div></section>`;
}

const USES = { group: 'ranked', 'zero-check': 'zero check', 'left-out': 'left out' } as const;

function clipsSection({ clips }: Comparison, linkTo: (path: string) => string): Markup {
  return html`<section id="clips"><h2 id="clips-h">Clips</h2><div class="scroll" role="region" aria-labelledby="clips-h" tabindex="0"><table><thead><tr><th scope="col">Report</th><th scope="col">Labels</th><th scope="col">Used as</th><th scope="col">Fitness</th><th scope="col" class="number">Presses</th></tr></thead><tbody>${clips.map((clip) => html`<tr><th scope="row" class="name">${link(clip.report, clip.file, linkTo)}</th><td class="words">${Object.values(clip.labels).join(' · ')}</td><td>${USES[clip.use]}</td><td>${clip.fitness}</td><td class="number">${clip.regions.reduce((sum, r) => sum + r.n, 0)}</td></tr>`)}</tbody></table></div></section>`;
}

function worriesSection(comparison: Comparison): Markup | null {
  const warnings = boardWorries(comparison);
  if (warnings.length === 0) return null;
  return html`<section id="worries"><h2>What to worry about</h2><ul class="worries">${warnings.map((text) => html`<li class="care"><b>mind</b>${text}</li>`)}</ul></section>`;
}
