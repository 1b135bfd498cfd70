/** What a recheck found, in words. */

import type { MovedNumber } from './movement.js';
import type { ClipCheck, DriftCause } from './recheckClip.js';
import type { FolderCheck } from './recheckFolder.js';

/** Numbers and findings that are spelt out for each clip; `--json` has them all. */
const SPELT_OUT = 5;

const CAUSES: Readonly<Record<DriftCause, string>> = {
  clip: 'the clip itself is another one',
  recipe: 'by the recipe: measured by the record\u2019s own recipe, nothing drifts',
  version: 'by another version of lagreel or FFmpeg, with the same clip and recipe',
  unexplained:
    'the clip, the recipe and the versions are the same: the record was edited, or lagreel is at fault',
};

/** The words on a folder: a paragraph on each clip, then one line on all. */
export function renderRecheck(check: FolderCheck): string {
  const clips = check.clips.map(clipText);
  const failed = check.failed.map((f) => `${f.record}: not checked: ${f.error}\n`);
  const unmeasured =
    check.unmeasured.length > 0 ? [`Without a record, not checked: ${check.unmeasured.join(', ')}.\n`] : [];
  const count = (status: ClipCheck['status']) => check.clips.filter((c) => c.status === status).length;
  const total =
    `Records: ${count('unchanged')} unchanged, ` +
    `${count('moved')} moved within tolerance, ${count('drifted')} drifted, ${check.failed.length} not checked ` +
    `(tolerance: ${check.tolerance} of each number's standard uncertainty).\n`;
  return [...clips, ...failed, ...unmeasured, total].join('');
}

function clipText(check: ClipCheck): string {
  const { movement } = check;
  const within = movement.moved.filter((n) => !n.beyond).length;
  const beyond = movement.moved.filter((n) => n.beyond);
  const spelt = [...movement.findings, ...beyond.map(numberText)];
  const more = spelt.length - SPELT_OUT;
  const lines = [
    ...(check.clipChanged
      ? [`clip changed: SHA-256 ${short(check.clipChanged.old)} before, ${short(check.clipChanged.new)} now`]
      : []),
    ...(check.recipeChanged.length > 0 ? [`recipe changed: ${check.recipeChanged.join(', ')}`] : []),
    ...(check.versionChanged
      ? [`lagreel ${check.versionChanged.old} before, ${check.versionChanged.new} now`]
      : []),
    ...(check.decoderChanged
      ? [`decoder: ${check.decoderChanged.old} before, ${check.decoderChanged.new} now`]
      : []),
    ...spelt.slice(0, SPELT_OUT),
    ...(more > 0 ? [`and ${more} more (--json has all)`] : []),
    ...(within > 0 ? [`${within} of ${movement.compared} numbers moved within tolerance`] : []),
    ...(check.cause ? [`why: ${CAUSES[check.cause]}`] : []),
    ...(check.updated ? ['new results written; the old record is kept in the history'] : []),
  ];
  const head = `${check.clip}: ${check.status} (${movement.compared} numbers compared)\n`;
  return head + lines.map((line) => `  ${line}\n`).join('');
}

function numberText(n: MovedNumber): string {
  const name = [n.press === null ? '' : `press ${n.press}`, n.region ?? '', n.what]
    .filter((p) => p !== '')
    .join(', ');
  const sign = n.differenceMs > 0 ? '+' : '\u2212';
  const against =
    n.inUncertainties === null
      ? ''
      : `, ${Math.abs(n.inUncertainties).toFixed(2)} of its standard uncertainty`;
  return `${name}: ${ms(n.oldMs)} before, ${ms(n.newMs)} ms now (${sign}${ms(Math.abs(n.differenceMs))} ms${against})`;
}

function ms(value: number): string {
  return value.toFixed(3).replace('-', '\u2212');
}

function short(sha256: string): string {
  return `${sha256.slice(0, 12)}\u2026`;
}
