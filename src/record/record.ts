/**
 * The record: what lagreel measured from one clip. The keys of the design's record are fixed and may only grow.
 * A record holds no date and no absolute path: the same clip, recipe and version give the same bytes.
 */
import type { Recipe } from './recipe.js';

/** Whether a clip can be measured. */
export type FitnessClass = 'fit' | 'usable with care' | 'unfit';

/** One reason behind a fitness class: what was seen, and what to change when filming again. */
export interface FitnessReason {
  /** Stable word for programs, for example `low-contrast`. */
  readonly code: string;
  /** How bad: only a note, a care, or a stop. */
  readonly severity: 'note' | 'care' | 'unfit';
  /** One sentence for people, with the measured figure. */
  readonly text: string;
}

/** What one region's light says about how well it can be measured. */
export interface RegionEvidence {
  /** Median size of a change over the noise of one frame; null where nothing changed. */
  readonly contrast: number | null;
  /** Strongest regular ripple while nothing changes, as the camera sees it; null where none stands out. */
  readonly rippleHz: number | null;
  /** Half the ripple's swing over the mean light. */
  readonly rippleDepth: number | null;
  /** Displacement of the picture while nothing changes, px (RMS); null where the region has too little detail to tell. */
  readonly shakePx: number | null;
  /** Share of the region that is clipped and was left out. */
  readonly clippedShare: number;
}

/** One part of a latency's uncertainty. */
export interface BudgetComponent {
  /** For example `LED onset`, `screen onset`, `row readout`, `capture rate`. */
  readonly name: string;
  /** Standard uncertainty (k = 1), ms. */
  readonly standardUncertaintyMs: number;
  readonly type: 'A' | 'B';
  /** Common to all presses of the clip (does not shrink with their number). */
  readonly common: boolean;
}

/** The response of one region to one press. Times in s on the capture clock from the first frame's timestamp. */
export interface ResponseRecord {
  readonly region: string;
  readonly status: 'measured' | 'no-response' | 'ambiguous';
  readonly firstLightS?: number;
  /** At the recipe's response level (10 % by default). */
  readonly onsetS?: number;
  readonly halfS?: number;
  /** 90 %. */
  readonly settledS?: number;
  readonly latencyMs?: number;
  /** Standard uncertainty (k = 1), ms. */
  readonly uncertaintyMs?: number;
  /** 95 % interval, ms. */
  readonly intervalMs?: readonly [number, number];
  readonly flags: readonly string[];
  readonly budget?: readonly BudgetComponent[];
}

/** One press. */
export interface PressRecord {
  /** From 1. */
  readonly index: number;
  readonly ledOnsetS: number;
  readonly ledOnsetUncertaintyMs: number;
  readonly status: 'measured' | 'no-response' | 'ambiguous' | 'excluded';
  /** Why a press is excluded or ambiguous, in words. */
  readonly reason?: string;
  readonly flags: readonly string[];
  readonly responses: readonly ResponseRecord[];
}

/** The wait model's answer (method: fixed delay plus a uniform wait for the next refresh or poll). */
export interface WaitModelRecord {
  /** Which model the data support. */
  readonly model: 'no-wait' | 'one-refresh' | 'jitter';
  /** The chain's own delay, ms, without the wait. */
  readonly fixedDelayMs: number;
  /** 95 % interval of the fixed delay, ms. */
  readonly intervalMs: readonly [number, number];
  /** Spread (sd) that neither the wait nor the camera explains, ms. */
  readonly jitterMs: number;
  /** 95 % interval of the jitter, ms. */
  readonly jitterIntervalMs: readonly [number, number];
  /** Period of the wait, ms; 0 for `no-wait`. */
  readonly periodMs: number;
  /** `stated`, `measured` from the lattice of responses, or `assumed`. */
  readonly periodSource: 'stated' | 'measured' | 'assumed' | 'none';
  readonly lag: 'fixed' | 'variable' | 'undecided';
  /** Bayesian information criterion of each model that was tried (lower is better). */
  readonly bic: Readonly<Record<string, number>>;
  /** What to worry about, for example presses locked to the refresh. */
  readonly warnings: readonly string[];
}

/** The distribution of one region's latencies. */
export interface SummaryRecord {
  readonly n: number;
  readonly minimumMs: number;
  readonly maximumMs: number;
  readonly medianMs: number;
  /** Distribution-free interval of the median and the confidence that it really has; null where n is too small. */
  readonly medianIntervalMs: readonly [number, number] | null;
  readonly medianConfidence: number | null;
  readonly meanMs: number;
  /** null for n = 1. */
  readonly sdMs: number | null;
  /** Hyndman and Fan type 8. */
  readonly quantilesMs: {
    readonly p05: number;
    readonly p25: number;
    readonly p75: number;
    readonly p95: number;
  };
  /** 1000 / refreshHz where the refresh is known. */
  readonly displayFrameMs: number | null;
  /** 10 % to 90 % time of the region's response, ms; null where it could not be resolved. */
  readonly responseTimeMs: number | null;
  /** `pulsed`: tube or strobed backlight, timed by its envelope; `held`: everything else. Left out in older records. */
  readonly light?: 'held' | 'pulsed';
  readonly waitModel: WaitModelRecord | null;
  /** Uncertainty shared by all presses (does not shrink with n), standard, ms. */
  readonly commonUncertaintyMs: number;
  /** The plain sentence on this chain. */
  readonly verdict: string;
}

/** The display's scan over the picture, from regions at different heights. */
export interface ScanoutRecord {
  /** Time from one upright pixel row to the next, ms; negative is upwards. */
  readonly msPerPx: number;
  /** Standard uncertainty, the camera's unknown readout included. */
  readonly msPerPxUncertainty: number;
  readonly direction: 'down' | 'up' | 'at-once';
  /** From the topmost region's middle to the lowest one's, ms. */
  readonly topToBottomMs: number;
  readonly presses: number;
}

/** What was looked for in the clip because the recipe that was given did not say. The record's recipe holds the answers. */
export interface FoundRecord {
  /** Names of the regions that were found. */
  readonly regions: readonly string[];
  /** The LED edge that the recipe called the press, before the light itself was looked at. */
  readonly edgeGiven: 'press' | 'release';
}

/** The record file. */
export interface ClipRecord {
  readonly format: 'lagreel-record';
  readonly version: 1;
  readonly tool: { readonly name: 'lagreel'; readonly version: string; readonly ffmpeg: string };
  readonly clip: {
    readonly file: string;
    readonly sha256: string;
    readonly bytes: number;
    /** Upright picture, px. */
    readonly width: number;
    readonly height: number;
    readonly frames: number;
    /** On the capture clock. */
    readonly durationS: number;
    readonly codec: string;
    readonly container: string;
    readonly rotationDeg: number;
    readonly pixelFormat: string;
    readonly range: string;
    readonly transfer: string;
  };
  readonly recipe: Recipe;
  readonly timing: {
    readonly captureRateHz: number;
    readonly source: string;
    readonly timeBase: readonly [number, number];
    readonly droppedFrames: number;
    readonly doubledFrames: number;
    readonly exposureFraction: number | null;
    readonly exposureFractionInterval: readonly [number, number] | null;
    readonly exposureSource: 'stated' | 'measured' | 'assumed';
    readonly readoutFraction: number | null;
    readonly readoutSource: 'stated' | 'calibrated' | 'display' | 'unknown';
    /** Resolution of the timestamps on the capture clock, ms. */
    readonly tickMs: number;
    readonly irregularityMs: number;
    /**
     * How much steeper than tagged the camera's tone curve starts (1: twice as steep), as the LED shows it, taken out of all
     * light; 0 where it is the tagged one, null where the LED tells nothing. Left out in older records.
     */
    readonly toneBend?: number | null;
    /** Standard uncertainty of what is left of the bend. */
    readonly toneBendUncertainty?: number | null;
  };
  readonly fitness: {
    readonly class: FitnessClass;
    readonly reasons: readonly FitnessReason[];
    /** By region; left out in older records. */
    readonly evidence?: Readonly<Record<string, RegionEvidence>>;
  };
  readonly presses: readonly PressRecord[];
  readonly unprompted: readonly { readonly region: string; readonly onsetS: number }[];
  readonly summary: Readonly<Record<string, SummaryRecord>>;
  /** How the display draws, where two or more screen regions tell; left out in records of older versions. */
  readonly scanout?: ScanoutRecord | null;
  readonly warnings: readonly string[];
  /** What the recipe left open; left out where it named everything, and in records of older versions. */
  readonly found?: FoundRecord;
}
