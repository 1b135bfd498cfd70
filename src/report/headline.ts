/** The answer of one region in words: what the terminal, the HTML report and other pictures put first. */
import type { ClipRecord, SummaryRecord } from '../record/record.js';
import { counted, decimalsFor, decimalsForInterval, fixed, intervalText, msText } from './numberText.js';
import { plainText } from './plainText.js';

/** One figure with its name: `typical press`, `68.4 ms (4.1 display frames)`. */
export interface Figure {
  readonly label: string;
  readonly value: string;
  /** A short explanation, may be empty. */
  readonly note: string;
}

/** The answer for one screen region. */
export interface Headline {
  /** Region name, safe to print. */
  readonly region: string;
  /** Labels of the chain in this region, `name: value`, safe to print. */
  readonly labels: readonly string[];
  readonly verdict: string;
  /** The big figure: fixed delay, or the median without a wait model; null where nothing was measured. */
  readonly main: Figure | null;
  readonly others: readonly Figure[];
}

/** Counts of presses by what became of them. */
export interface PressCounts {
  readonly measured: number;
  readonly noResponse: number;
  readonly ambiguous: number;
  readonly excluded: number;
  readonly unprompted: number;
}

/** Names of the screen regions in the recipe's order, then any that only the record knows. */
export function screenRegions(record: ClipRecord): readonly string[] {
  const names = record.recipe.regions.filter((r) => r.role === 'screen').map((r) => r.name);
  const known = new Set(names);
  const answered = record.presses.flatMap((p) => p.responses.map((r) => r.region));
  for (const name of [...Object.keys(record.summary), ...answered]) {
    if (!known.has(name)) {
      known.add(name);
      names.push(name);
    }
  }
  return names;
}

/** The summary of a region, or null where nothing was measured in it. */
export function summaryOf(record: ClipRecord, region: string): SummaryRecord | null {
  const summary = Object.hasOwn(record.summary, region) ? record.summary[region] : undefined;
  return summary === undefined || summary.n < 1 ? null : summary;
}

/** Labels of a region: the clip's own, overruled by those of the region. */
export function labelsOf(record: ClipRecord, region: string): Readonly<Record<string, string>> {
  const own = record.recipe.regions.find((r) => r.name === region)?.labels ?? {};
  return { ...record.recipe.labels, ...own };
}

/** How many presses ended in which way (by the status of the press, all regions together). */
export function pressCounts(record: ClipRecord): PressCounts {
  const count = (status: string): number => record.presses.filter((p) => p.status === status).length;
  return {
    measured: count('measured'),
    noResponse: count('no-response'),
    ambiguous: count('ambiguous'),
    excluded: count('excluded'),
    unprompted: record.unprompted.length,
  };
}

/** `12 measured, 1 no response, …`: all counts, also the zeros, since a reader asks for them. */
export function countsText(counts: PressCounts): string {
  return [
    `${counts.measured} measured`,
    `${counts.noResponse} without response`,
    `${counts.ambiguous} ambiguous`,
    `${counts.excluded} excluded`,
    `${counted(counts.unprompted, 'unprompted change', 'unprompted changes')} of a screen`,
  ].join(', ');
}

/** ` (4.1 display frames)`, or nothing where the refresh is not known. */
export function displayFramesText(valueMs: number, displayFrameMs: number | null): string {
  return displayFrameMs === null ? '' : `${fixed(valueMs / displayFrameMs, 2)} display frames`;
}

function noteOf(...parts: readonly string[]): string {
  return parts.filter((part) => part !== '').join('; ');
}

/** The answer for one region of a record. */
export function headlineOf(record: ClipRecord, region: string): Headline {
  const labels = Object.entries(labelsOf(record, region)).map(([k, v]) => `${plainText(k)}: ${plainText(v)}`);
  const summary = summaryOf(record, region);
  const name = plainText(region);
  if (summary === null) {
    const verdict = `Nothing could be measured in region ${name}.`;
    return { region: name, labels, verdict, main: null, others: [] };
  }
  const frames = (ms: number): string => displayFramesText(ms, summary.displayFrameMs);
  const verdict = plainText(summary.verdict);
  const range: Figure = {
    label: 'fastest to slowest press',
    value: intervalText([summary.minimumMs, summary.maximumMs]),
    note: counted(summary.n, 'press measured', 'presses measured'),
  };
  const medianDecimals =
    summary.medianIntervalMs === null ? 1 : decimalsForInterval(summary.medianIntervalMs);
  const median: Figure = {
    label: 'median',
    value: msText(summary.medianMs, medianDecimals),
    note: noteOf(medianIntervalText(summary, medianDecimals), frames(summary.medianMs)),
  };
  const model = summary.waitModel;
  if (model === null)
    return { region: name, labels, verdict, main: median, others: summary.n > 1 ? [range] : [] };

  const decimals = decimalsForInterval(model.intervalMs);
  const main: Figure = {
    label: 'fixed delay',
    value: msText(model.fixedDelayMs, decimals),
    note: noteOf(`95 % interval ${intervalText(model.intervalMs, decimals)}`, frames(model.fixedDelayMs)),
  };
  const hasWait = model.periodMs > 0;
  const typicalMs = model.fixedDelayMs + model.periodMs / 2;
  const worstMs = model.fixedDelayMs + model.periodMs;
  const typical: Figure = {
    label: 'typical press',
    value: msText(typicalMs, decimals),
    note: noteOf(hasWait ? 'fixed delay and half a wait' : 'no wait seen', frames(typicalMs)),
  };
  const worst: Figure = {
    label: 'worst explained by the wait',
    value: msText(worstMs, decimals),
    note: noteOf(`wait of up to ${fixed(model.periodMs, 2)} ms, ${model.periodSource}`, frames(worstMs)),
  };
  const jitterDecimals = Math.max(1, decimalsFor(model.jitterIntervalMs[1] - model.jitterIntervalMs[0]));
  const jitter: Figure = {
    label: 'jitter',
    value: msText(model.jitterMs, jitterDecimals),
    note: noteOf(`95 % interval ${intervalText(model.jitterIntervalMs, jitterDecimals)}`, `lag ${model.lag}`),
  };
  return {
    region: name,
    labels,
    verdict,
    main,
    others: [typical, ...(hasWait ? [worst] : []), jitter, median, range],
  };
}

// `95.8 % interval 64.2 to 72.9 ms`, or why there is none.
function medianIntervalText(summary: SummaryRecord, decimals: number): string {
  if (summary.medianIntervalMs === null) return 'too few presses for an interval';
  const level = summary.medianConfidence === null ? '' : `${fixed(100 * summary.medianConfidence, 1)} % `;
  return `${level}interval ${intervalText(summary.medianIntervalMs, decimals)}`;
}

const SOURCES: Readonly<Record<string, string>> = {
  stated: 'as stated by the user',
  light: 'calibrated from a periodic light in the picture',
  tag: "from the clip's own capture-rate tag",
  timestamps: "from the clip's timestamps alone",
};

/** One sentence on how the capture clock was known. */
export function timingText(record: ClipRecord): string {
  const t = record.timing;
  const source = SOURCES[t.source] ?? `from ${plainText(t.source)}`;
  const lost =
    t.droppedFrames + t.doubledFrames === 0
      ? 'no camera frame dropped or doubled'
      : `${counted(t.droppedFrames, 'camera frame', 'camera frames')} dropped, ${t.doubledFrames} doubled`;
  return `Filmed at ${fixed(t.captureRateHz, 2)} camera frames per second, ${source}; ${lost}.`;
}

/** One sentence on exposure and readout: what was known of the shutter. */
export function shutterText(record: ClipRecord): string {
  const t = record.timing;
  const percent = (share: number): string => `${fixed(100 * share, 0)} %`;
  const interval = t.exposureFractionInterval;
  const range =
    interval === null ? '' : ` (95 % interval ${percent(interval[0])} to ${percent(interval[1])})`;
  const exposure =
    t.exposureFraction === null
      ? `The exposure is unknown${range}`
      : `The shutter is open for ${percent(t.exposureFraction)} of a camera frame${range}, ${t.exposureSource}`;
  const readout =
    t.readoutFraction === null
      ? 'the time that the sensor takes to read its rows is unknown'
      : `the sensor reads its rows in ${percent(t.readoutFraction)} of a camera frame, ${t.readoutSource}`;
  return `${exposure}; ${readout}.${toneText(t.toneBend)}`;
}

/** What was done to the light beyond undoing the tagged curve, as a sentence more. */
function toneText(bend: number | null | undefined): string {
  if (!bend) return '';
  const times = `${fixed(1 + bend, 1)} times as steep as tagged`;
  return ` The camera's tone curve starts ${times}, as the LED's partly lit frames show, and was taken out of all light.`;
}

/** Everything a reader should worry about: fitness reasons, warnings, the wait models' warnings; safe to print. */
export function worries(
  record: ClipRecord,
): readonly { readonly severity: 'note' | 'care' | 'unfit'; readonly text: string }[] {
  const reasons = record.fitness.reasons.map((r) => ({ severity: r.severity, text: plainText(r.text) }));
  const rank = { unfit: 0, care: 1, note: 2 } as const;
  const warnings = record.warnings.map((w) => ({ severity: 'care' as const, text: plainText(w) }));
  const models = screenRegions(record).flatMap((region) =>
    (summaryOf(record, region)?.waitModel?.warnings ?? []).map((w) => ({
      severity: 'care' as const,
      text: `Region ${plainText(region)}: ${plainText(w)}`,
    })),
  );
  const seen = new Set<string>();
  return [...reasons, ...warnings, ...models]
    .filter(({ text }) => !seen.has(text) && seen.add(text))
    .sort((a, b) => rank[a.severity] - rank[b.severity]);
}
