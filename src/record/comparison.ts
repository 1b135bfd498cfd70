/**
 * The comparison: what many records say about chains against a baseline. The keys of the design's comparison are fixed
 * and may only grow. A comparison holds no date and no absolute path. All intervals are 95 % unless the key says more;
 * differences are group minus baseline, so that a positive number is added lag.
 */

/** Labels by key, for example `{ "chain": "Birch", "mode": "240p" }`; a key that a clip lacks has the value `''`. */
export type Labels = Readonly<Record<string, string>>;

/** A low and a high end, ms. */
export type IntervalMs = readonly [number, number];

/** Whether a lag is the same for every press; `undecided` where the presses do not show it. */
export type LagKind = 'fixed' | 'variable' | 'undecided';

/** What may be said of a group against its baseline. */
export type ComparisonVerdict = 'no-added-lag' | 'adds-fixed' | 'adds-variable' | 'less-lag' | 'undecided';

/** One clip that was looked at. */
export interface ComparedClip {
  /** Name of the clip file. */
  readonly file: string;
  readonly sha256: string;
  /** Path of the record file, relative to the folder of the comparison where it is written to one; `/` between folders. */
  readonly record: string;
  /** Path of the clip's report beside the record, in the same manner. */
  readonly report: string;
  /** Labels of the clip (recipe and session table). */
  readonly labels: Labels;
  readonly fitness: 'fit' | 'usable with care' | 'unfit';
  /** What the clip served for; `left-out` clips are in no group (see `warnings`). */
  readonly use: 'group' | 'zero-check' | 'left-out';
  /** Its screen regions with their measured presses, labels merged with the regions' own. */
  readonly regions: readonly {
    readonly name: string;
    readonly labels: Labels;
    readonly n: number;
    /** The clip's own fixed delay by the wait model; null below 3 presses. */
    readonly fixedDelayMs: number | null;
    readonly intervalMs: IntervalMs | null;
    readonly medianMs: number | null;
  }[];
}

/** One group: the clips that share the labels of `by`, one region. */
export interface ComparedGroup {
  /** The labels of `by`. */
  readonly labels: Labels;
  /** Values of the labels joined, for headings: `Birch` or `Birch, 240p`. */
  readonly name: string;
  readonly region: string;
  readonly isBaseline: boolean;
  readonly clips: number;
  /** Measured presses of all clips. */
  readonly n: number;
  /** Fixed delay of the wait model over the clips (random effects); null below 3 presses. */
  readonly fixedDelayMs: number | null;
  /** Joint uncertainty: presses, between-clip spread where it is known, and what all presses share. */
  readonly intervalMs: IntervalMs | null;
  readonly medianMs: number;
  readonly minimumMs: number;
  readonly maximumMs: number;
  readonly meanMs: number;
  /** Quantiles of all presses, Hyndman and Fan type 8. */
  readonly quantilesMs: {
    readonly p05: number;
    readonly p25: number;
    readonly p75: number;
    readonly p95: number;
  };
  /** Spread (sd) that neither wait nor camera explains. */
  readonly jitterMs: number | null;
  readonly jitterIntervalMs: IntervalMs | null;
  readonly lag: LagKind;
  /** Period of the wait; null where the refresh is not known. */
  readonly periodMs: number | null;
  /** Fixed delay in display frames; null where the refresh is not known. */
  readonly fixedDelayDisplayFrames: number | null;
  /** Latencies of all presses in the order of clips and presses, for drawing; clip is the index in `clips`. */
  readonly latencies: readonly { readonly clip: number; readonly ms: number }[];
  /** Sample sd of the clips' fixed delays; null with one clip. */
  readonly betweenClipSdMs: number | null;
}

/** A difference by one method. */
export interface DifferenceMs {
  readonly differenceMs: number;
  readonly intervalMs: IntervalMs;
}

/** Two one-sided tests at 5 % each. */
export interface ComparedEquivalence {
  readonly marginMs: number;
  /** 90 % interval of the difference: equivalent where it lies inside the margin. */
  readonly interval90Ms: IntervalMs;
  /** The larger p value of the two tests. */
  readonly p: number;
  /** After Holm's correction over all comparisons of this document. */
  readonly pAdjusted: number;
  readonly equivalent: boolean;
}

/** Two chains filmed in one picture, press by press. */
export interface PairedComparison extends DifferenceMs {
  readonly clips: number;
  readonly pairs: number;
  /** Regions by record, group first. */
  readonly regions: readonly {
    readonly record: string;
    readonly region: string;
    readonly baselineRegion: string;
  }[];
  readonly hodgesLehmann: DifferenceMs;
  /** Sample sd of the differences within the clips. */
  readonly sdMs: number;
  /** Spread of the differences beyond the camera's own, with its interval. */
  readonly jitterMs: number;
  readonly jitterIntervalMs: IntervalMs;
  readonly lag: LagKind;
  /** p value of no difference, paired t (over the clips where there are several). */
  readonly p: number;
  readonly equivalence: ComparedEquivalence;
}

/** One group against its baseline. */
export interface GroupComparison {
  readonly labels: Labels;
  readonly name: string;
  readonly region: string;
  readonly baseline: Labels;
  readonly baselineRegion: string;
  /** `paired`: press by press in one picture; `wait-model`: difference of fixed delays; `none`: too few presses. */
  readonly method: 'paired' | 'wait-model' | 'none';
  /** The headline difference, by `method`; null where the method is `none`. */
  readonly addedMs: number | null;
  readonly intervalMs: IntervalMs | null;
  readonly addedDisplayFrames: number | null;
  readonly intervalDisplayFrames: readonly [number, number] | null;
  /** For a variable lag: what is added to the fastest and to the slowest press; null otherwise. */
  readonly addedRangeMs: IntervalMs | null;
  readonly equivalent: boolean;
  readonly equivalence: ComparedEquivalence | null;
  readonly lag: LagKind;
  readonly verdict: ComparisonVerdict;
  /** For people: `Birch adds 4.0 ms (0.24 display frames), fixed.` */
  readonly sentence: string;
  /** Presses of each chain to film beside those at hand; null where the verdict is not `undecided`, or where they do not help. */
  readonly morePresses: number | null;
  /** Two-sided p of no difference by `method`, and after Holm's correction over all comparisons. */
  readonly p: number | null;
  readonly pAdjusted: number | null;
  /** Difference of fixed delays with its standard uncertainty, and the part that presses do not shrink. */
  readonly waitModel:
    | (DifferenceMs & { readonly uncertaintyMs: number; readonly systematicMs: number })
    | null;
  /** Hodges-Lehmann shift of all presses (waits included). */
  readonly hodgesLehmann: DifferenceMs | null;
  readonly differenceOfMeans: DifferenceMs | null;
  /** Rank test of all presses: P(group > baseline) and two-sided p. */
  readonly rankTest: {
    readonly relativeEffect: number;
    readonly p: number;
    readonly pAdjusted: number;
  } | null;
  readonly paired: PairedComparison | null;
  /** What was allowed although it does not compare, in words. */
  readonly allowed: readonly string[];
}

/** Between-clip spread in the sense of ISO 5725 (same chain, filmed again), pooled over all groups. */
export interface BetweenClips {
  /** Clips less groups, of the groups with two clips or more; 0 where none has two. */
  readonly degreesOfFreedom: number;
  /** Posterior median (sd); null where no group has two clips. */
  readonly sdMs: number | null;
  readonly intervalMs: IntervalMs | null;
  /** For people, also where it is not measured. */
  readonly sentence: string;
}

/** The session's check that nothing takes zero time: a second LED on the same switch as the screen region. */
export interface ZeroCheck {
  readonly status: 'passed' | 'failed' | 'missing';
  readonly clips: readonly {
    readonly file: string;
    readonly record: string;
    readonly region: string;
    readonly n: number;
    readonly meanMs: number;
    /** 95 % interval of the mean, with what all presses share. */
    readonly intervalMs: IntervalMs;
    readonly passed: boolean;
  }[];
  /** For people: the result, or that there is none. */
  readonly sentence: string;
}

/** A stage known from elsewhere: anywhere within value +- half width (JCGM 101, rectangular). */
export interface BudgetStage {
  readonly name: string;
  readonly valueMs: number;
  readonly halfWidthMs: number;
}

/** One part of a total, for a stacked bar. */
export interface BudgetPart {
  readonly name: string;
  readonly kind: 'fixed-delay' | 'wait' | 'jitter' | 'stage';
  /** Median of this part. */
  readonly typicalMs: number;
  /** 2.5 % and 97.5 % of this part. */
  readonly rangeMs: IntervalMs;
}

/** Thumb to eye of one group: measured latency and the stages. 19 of 20 presses lie between best and worst. */
export interface BudgetTotal {
  readonly labels: Labels;
  readonly name: string;
  readonly region: string;
  /** 2.5 % quantile. */
  readonly bestMs: number;
  readonly typicalMs: number;
  /** 97.5 % quantile. */
  readonly worstMs: number;
  /** The same in display frames; null where the refresh is not known. */
  readonly bestDisplayFrames: number | null;
  readonly typicalDisplayFrames: number | null;
  readonly worstDisplayFrames: number | null;
  /** Typical parts add to `typicalMs` only nearly: medians do not add exactly. */
  readonly parts: readonly BudgetPart[];
}

/** The budget; null in the document where no stage was given. */
export interface Budget {
  readonly stages: readonly BudgetStage[];
  readonly totals: readonly BudgetTotal[];
}

/** The comparison file (`compare --json`, and the file behind the board). */
export interface Comparison {
  readonly format: 'lagreel-comparison';
  readonly version: 1;
  readonly tool: { readonly name: 'lagreel'; readonly version: string };
  readonly marginMs: number;
  readonly by: readonly string[];
  /** Null where groups are listed without comparing. */
  readonly baseline: Labels | null;
  readonly groups: readonly ComparedGroup[];
  readonly comparisons: readonly GroupComparison[];
  readonly betweenClips: BetweenClips;
  readonly zeroCheck: ZeroCheck;
  readonly budget: Budget | null;
  readonly clips: readonly ComparedClip[];
  readonly warnings: readonly string[];
}
