/** What one screen region of one record brings to a comparison: latencies, labels, and what its errors have in common. */
import type { Labels } from '../record/comparison.js';
import type { BudgetComponent, ClipRecord, PressRecord, ResponseRecord } from '../record/record.js';

/** A record with its place and the labels of the session table. */
export interface CompareInput {
  readonly record: ClipRecord;
  /** Path of the record file as it is to stand in the comparison. */
  readonly recordPath: string;
  /** Path of the clip's report in the same manner. */
  readonly reportPath: string;
  /** Labels of the session table; they stand above the recipe's. */
  readonly labels?: Labels;
  /** Labels of the session table for single regions, by region name. */
  readonly regionLabels?: Readonly<Record<string, Labels>>;
}

/** One latency with the uncertainty that it does not share. */
export interface MeasuredLatency {
  readonly pressIndex: number;
  readonly ms: number;
  /** Standard uncertainty (k = 1) without what the presses of the clip share, ms. */
  readonly ownUncertaintyMs: number;
  /** The LED's part of it, ms: what two regions of one press share. */
  readonly ledUncertaintyMs: number;
}

/** Errors that clips share, by source: the same key is the same error, so that it cancels between equal values. */
export type SharedErrors = ReadonlyMap<string, number>;

/** One screen region of one clip. */
export interface MeasuredRegion {
  /** Index of the input. */
  readonly clip: number;
  readonly recordPath: string;
  readonly file: string;
  readonly name: string;
  readonly labels: Labels;
  /** True where the region has labels of its own: its name then says which chain, not which place. */
  readonly hasOwnLabels: boolean;
  readonly latencies: readonly MeasuredLatency[];
  /** Common to this clip and region alone (standard, ms): the form of the response. */
  readonly clipUncertaintyMs: number;
  /** Standard uncertainties with sign, ms, by source. */
  readonly sharedErrorsMs: SharedErrors;
  /** Refresh period of the display, ms; null where it is not known. */
  readonly periodMs: number | null;
  readonly level: number;
  readonly edge: 'press' | 'release';
  readonly light: 'held' | 'pulsed' | null;
  /** Middle of the region over the picture's height, 0 at the top. */
  readonly heightShare: number;
}

/** Label that marks a clip of a second LED on the same switch. */
export const ZERO_LABEL = { key: 'check', value: 'zero' } as const;

/** True for a clip of the zero check. */
export function isZeroCheck(labels: Labels): boolean {
  return labels[ZERO_LABEL.key]?.toLowerCase() === ZERO_LABEL.value;
}

/** Labels of a clip: the recipe's, with the session table's above them. */
export function clipLabels({ record, labels }: CompareInput): Labels {
  return { ...record.recipe.labels, ...labels };
}

/** The screen regions of one input, in the order of its recipe, measured presses only. */
export function measuredRegions(input: CompareInput, clip: number): MeasuredRegion[] {
  const { record } = input;
  const led = record.recipe.regions.find((r) => r.role === 'led');
  return record.recipe.regions
    .filter((r) => r.role === 'screen')
    .map((region) => {
      const measured = record.presses.flatMap((press) => measuredResponse(press, region.name));
      const own = { ...region.labels, ...input.regionLabels?.[region.name] };
      const centreY = region.y + region.height / 2;
      // Rows of the sensor run across the upright picture of a clip that was turned.
      const turned = record.clip.rotationDeg % 180 !== 0;
      const along = (r: { x: number; y: number; width: number; height: number }): number =>
        turned ? r.x + r.width / 2 : r.y + r.height / 2;
      return {
        clip,
        recordPath: input.recordPath,
        file: record.clip.file,
        name: region.name,
        labels: { ...clipLabels(input), ...own },
        hasOwnLabels: Object.keys(own).length > 0,
        latencies: measured.map(({ latency }) => latency),
        ...commonErrors(
          record,
          measured.map((m) => m.budget),
          led && along(region) < along(led) ? -1 : 1,
        ),
        periodMs: record.summary[region.name]?.displayFrameMs ?? null,
        level: record.recipe.response.level,
        edge: record.recipe.cue.edge,
        light: record.summary[region.name]?.light ?? null,
        heightShare: centreY / record.clip.height,
      };
    });
}

function measuredResponse(
  press: PressRecord,
  region: string,
): { latency: MeasuredLatency; budget: readonly BudgetComponent[] }[] {
  const response: ResponseRecord | undefined = press.responses.find((r) => r.region === region);
  if (press.status === 'excluded' || response?.status !== 'measured' || response.latencyMs === undefined)
    return [];
  const budget = response.budget ?? [];
  const common = budget.reduce((sum, c) => sum + (c.common ? c.standardUncertaintyMs ** 2 : 0), 0);
  const total = response.uncertaintyMs ?? 0;
  return [
    {
      latency: {
        pressIndex: press.index,
        ms: response.latencyMs,
        ownUncertaintyMs: Math.sqrt(Math.max(0, total ** 2 - common)),
        ledUncertaintyMs: Math.min(press.ledOnsetUncertaintyMs, total),
      },
      budget,
    },
  ];
}

/**
 * Splits what all presses of a clip share into the clip's own part and errors that other clips share, too: the readout
 * of one camera in one mode, its rate, the LED. Mean over presses of each component.
 */
function commonErrors(
  record: ClipRecord,
  budgets: readonly (readonly BudgetComponent[])[],
  readoutSign: number,
): Pick<MeasuredRegion, 'clipUncertaintyMs' | 'sharedErrorsMs'> {
  const { clip, timing, recipe } = record;
  const rate = Math.round(timing.captureRateHz);
  // The same camera and mode, as far as a record tells.
  const camera = `${clip.width} x ${clip.height}, ${clip.rotationDeg} deg, ${rate} Hz`;
  const keys: Readonly<Record<string, string>> = {
    'row readout': `row readout, ${timing.readoutSource}, ${camera}`,
    'capture rate': `capture rate, ${timing.source}, ${rate} Hz`,
    'LED delay': `LED delay, ${recipe.cue.delayMs} ms`,
  };
  let own = 0;
  const shared = new Map<string, number>();
  for (const component of budgets.flat()) {
    if (!component.common) continue;
    const u = component.standardUncertaintyMs;
    const key = keys[component.name];
    if (key === undefined) {
      own += u ** 2 / budgets.length;
      continue;
    }
    const sign = component.name === 'row readout' ? readoutSign : 1;
    shared.set(key, (shared.get(key) ?? 0) + (sign * u) / budgets.length);
  }
  return { clipUncertaintyMs: Math.sqrt(own), sharedErrorsMs: shared };
}

/** Shared errors of a group: the mean over its regions, by source. */
export function meanSharedErrors(regions: readonly Pick<MeasuredRegion, 'sharedErrorsMs'>[]): SharedErrors {
  const mean = new Map<string, number>();
  for (const { sharedErrorsMs } of regions) {
    for (const [key, u] of sharedErrorsMs) mean.set(key, (mean.get(key) ?? 0) + u / regions.length);
  }
  return mean;
}

/** Standard uncertainty of x - y from shared errors, ms: what has the same source and size cancels. */
export function uncancelledMs(x: SharedErrors, y: SharedErrors = new Map()): number {
  let variance = 0;
  for (const key of new Set([...x.keys(), ...y.keys()])) {
    variance += ((x.get(key) ?? 0) - (y.get(key) ?? 0)) ** 2;
  }
  return Math.sqrt(variance);
}
