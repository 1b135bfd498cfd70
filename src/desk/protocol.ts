/**
 * What the desk's page and its server say to each other. Both sides import these types and nothing else of each other.
 *
 * The address is `http://127.0.0.1:PORT/#SECRET`; every request below `/api` carries the secret in the header
 * `x-lagreel-secret`. Errors are answered as `DeskFault` with a status of 400 or more. Binary series travel as base64
 * of little-endian numbers.
 */
import type { Comparison } from '../record/comparison.js';
import type { Recipe } from '../record/recipe.js';
import type { ClipRecord, FitnessClass } from '../record/record.js';
import type { Region, RegionRole } from '../region/region.js';

/** The header that carries the secret of this run. */
export const SECRET_HEADER = 'x-lagreel-secret';

/** Any answer with a status of 400 or more: one sentence that can be shown as it is. */
export interface DeskFault {
  readonly error: string;
  /** With status 409 of a recipe: the tag of the file as it is now; null where there is none any more. */
  readonly recipeTag?: string | null;
  /** With status 422 of a comparison: what `CompareAsked.allow` would have to name. */
  readonly allowances?: readonly string[];
}

/** `GET /api/clips`. */
export interface FolderAnswer {
  /** Base name of the folder, never a path. */
  readonly folder: string;
  readonly version: string;
  readonly clips: readonly ClipCard[];
  /** Files that look like clips and are not shown, each with one sentence why (a link that leads out of the folder). */
  readonly left: readonly { readonly name: string; readonly reason: string }[];
  /** Label keys that occur in the folder, for `compare`. */
  readonly labelKeys: readonly string[];
}

/** One clip in the listing; everything from the files beside it, nothing is decoded. */
export interface ClipCard {
  /** Stands for the clip in every address; the same after a restart. */
  readonly id: string;
  /** File name. */
  readonly name: string;
  readonly bytes: number;
  readonly recipe: boolean;
  readonly record: boolean;
  /** True where the recipe (with the labels of the session table) is no longer the one that the record was made by. */
  readonly outdated: boolean;
  readonly fitness: FitnessClass | null;
  readonly headline: ClipHeadline | null;
  /** Presses by what became of them; null without a record. */
  readonly presses: {
    readonly measured: number;
    readonly noResponse: number;
    readonly ambiguous: number;
    readonly excluded: number;
  } | null;
  /** What to worry about (severity care and unfit), and a recipe or record that cannot be read. */
  readonly warnings: readonly string[];
  readonly labels: Readonly<Record<string, string>>;
}

/** The big figure of a clip's first screen region with an answer. */
export interface ClipHeadline {
  readonly region: string;
  /** For example `fixed delay`. */
  readonly label: string;
  /** For example `61.2 ms`. */
  readonly value: string;
  readonly note: string;
  readonly verdict: string;
}

/** `GET /api/clips/:id`. The first call reads the whole file once (its hash), so it may take a second. */
export interface ClipAnswer {
  readonly id: string;
  readonly name: string;
  readonly facts: {
    /** Upright picture, px. Regions are in these pixels. */
    readonly width: number;
    readonly height: number;
    readonly frames: number;
    /** On the capture clock where that is known, else as a player shows it, s. */
    readonly durationS: number;
    /** null where the clip does not say how fast it was filmed. */
    readonly captureRateHz: number | null;
    readonly mediaRateHz: number | null;
    readonly codec: string;
    readonly container: string;
    readonly bytes: number;
    readonly sha256: string;
    readonly rotationDeg: number;
  };
  readonly clock: {
    readonly known: boolean;
    /** Where the clock is unknown: what is missing, one sentence. */
    readonly reason: string | null;
    /** How the time is known, one sentence each. */
    readonly remarks: readonly string[];
  };
  /**
   * base64 of one float64 a frame, presentation order: s on the capture clock, on the record's own zero (its first used
   * frame). Where the clock is unknown, media time. Index k here is index k of `/frame/k`.
   */
  readonly capturedAtS: string;
  /** base64 of one byte a frame: 1 where the frame is measured from, 0 where it is left out (a copy, a slow part); null: all 1. */
  readonly used: string | null;
  /** As it stands on disk; null where there is none yet (then start from `emptyRecipe`). */
  readonly recipe: Recipe | null;
  /** Always filled in: the recipe, or one with nothing decided, for this clip. */
  readonly emptyRecipe: Recipe;
  /** SHA-256 of the recipe file's bytes, hex; null where there is none. Send it back as `ifTag`. */
  readonly recipeTag: string | null;
  /** As it stands on disk. */
  readonly record: ClipRecord | null;
  readonly outdated: boolean;
  /** Labels that the folder's session table lays over the recipe's own when measuring; null without a row. */
  readonly sessionLabels: Readonly<Record<string, string>> | null;
  /** A recipe or record on disk that cannot be read: one sentence each. */
  readonly faults: readonly string[];
}

/** `PUT /api/clips/:id/recipe`. */
export interface SaveRecipe {
  readonly recipe: Recipe;
  /** The tag of the file as the page knows it; null: there was none. Another tag on disk is answered with 409. */
  readonly ifTag: string | null;
}

/** The answer to `SaveRecipe`. */
export interface SavedRecipe {
  readonly recipeTag: string;
}

/**
 * `POST /api/clips/:id/measure`. Without a recipe: the one on disk. With `save`, record, table, picture and report are
 * written as `lagreel measure` does, and a given recipe is saved first (`ifTag` as in `SaveRecipe`, 409 too).
 */
export interface MeasureRequest {
  readonly recipe?: Recipe;
  readonly ifTag?: string | null;
  readonly save: boolean;
}

/** `POST /api/clips/:id/find`: looks for the regions of roles that the recipe does not name. */
export interface FindRequest {
  /** Default: nothing decided. */
  readonly recipe?: Recipe;
}

/** The answer to every request that starts a job. */
export interface JobStarted {
  readonly job: string;
}

/** `GET /api/jobs/:job`; `DELETE` cancels and answers the same. */
export interface JobAnswer {
  readonly job: string;
  readonly kind: 'measure' | 'find';
  readonly clip: string;
  readonly state: 'running' | 'done' | 'failed' | 'cancelled';
  /** For example `measuring`; empty before the first frame. */
  readonly stage: string;
  /** Share of the stage that is done, 0..1; null where the clip does not say how long it is. */
  readonly fraction: number | null;
  readonly error?: string;
  readonly result?: MeasureResult | FindResult;
}

/** The result of a job of kind `measure`. */
export interface MeasureResult {
  readonly record: ClipRecord;
  /** The recipe with everything filled in that was found. */
  readonly recipe: Recipe;
  /** Tag of the recipe file after a measurement that saved; null otherwise. */
  readonly recipeTag: string | null;
  readonly traces: TracesAnswer;
  readonly saved: boolean;
}

/** The result of a job of kind `find`. */
export interface FindResult {
  readonly regions: readonly Region[];
  readonly edge: 'press' | 'release';
  readonly unsure: boolean;
  readonly notes: readonly string[];
}

/** `GET /api/clips/:id/traces`: by the recipe on disk; 404 where its regions were not sampled yet. */
export interface TracesAnswer {
  /** base64 float64, one a used frame, s on the capture clock; mid-exposure of a region is `middleS` later. */
  readonly capturedAtS: string;
  /** base64 uint32: index of each used frame in presentation order (`/frame/k`); null where all frames are used. */
  readonly frames: string | null;
  readonly regions: readonly TraceAnswer[];
}

/** The trace of one region. */
export interface TraceAnswer {
  readonly name: string;
  readonly role: RegionRole;
  /** base64 float32, one a used frame: mean linear light of the region, 0..1. */
  readonly values: string;
  /**
   * base64 float32, one a used frame: the signal that onsets were found in (the light along its main kind of change), 0
   * at its lower and 1 at its upper plateau. Shows a moving picture that the mean does not. null where nothing changes.
   */
  readonly signal: string | null;
  /** From a frame's time to the middle of its exposure at this region's rows, s. */
  readonly middleS: number;
}

/**
 * `POST /api/clips/:id/report`: renders the report of the recipe on disk and answers an address on this server that may
 * be opened in a new tab (it carries a capability of its own, good until the desk ends, and brings its own policy).
 */
export interface ReportAnswer {
  readonly address: string;
}

/** `POST /api/compare`. */
export interface CompareAsked {
  /** Label keys that make the groups. */
  readonly by: readonly string[];
  /** Clips with a record, two or more. */
  readonly ids: readonly string[];
  readonly baseline?: Readonly<Record<string, string>> | null;
  /** Default 1. */
  readonly marginMs?: number;
  /** What may differ all the same, in the words of `DeskFault.allowances`; default nothing. */
  readonly allow?: readonly string[];
}

/** The comparison and its text as `lagreel compare` prints it. */
export interface CompareAnswer {
  readonly comparison: Comparison;
  readonly text: string;
}
