/**
 * What the light of a clip says, without the light: changes, evidence, and pictures around the changes. All that is
 * decided, paired and counted afterwards starts here, so that it can be kept where the samples are too large to read.
 */
import type { ClipFacts, FrameTimes } from './clip/frameSource.js';
import type { ClipOnsets, OnsetOptions, OnsetRecipe } from './clipOnsets.js';
import { type LightEvidence, lightEvidence } from './measuredEvidence.js';
import type { OnsetSet } from './onset/onset.js';
import { pressPictures, type RegionPictures } from './pressPictures.js';
import type { Region } from './region/region.js';

/** What is left of one region's light. */
export interface RegionFindings extends LightEvidence {
  readonly region: Region;
  readonly pictures: RegionPictures;
  /** True where clipped cells had to be used, since the others say nothing. */
  readonly saturated: boolean;
  /** Share (0..1) of the region's cells that clip. */
  readonly clippedCells: number;
  /** From a frame's timestamp to the start of exposure of the region's middle row, s. */
  readonly rowDelayS: number;
}

/** What is left of a clip's light: plain data. */
export interface ClipFindings
  extends Pick<ClipOnsets, 'clock' | 'readout' | 'exposure' | 'tone' | 'led' | 'screens'> {
  /** Frames that are used. */
  readonly frames: number;
  readonly damagedFrames: number;
  readonly ledLight: RegionFindings;
  /** One a screen region, in the order of `screens`. */
  readonly screenLights: readonly RegionFindings[];
}

/** All that findings depend on, but for lagreel itself. */
export interface FindingsQuestion extends Pick<OnsetOptions, 'camera' | 'readoutShown'> {
  readonly facts: ClipFacts;
  readonly recipe: OnsetRecipe;
}

/** A place where findings of clips are kept. */
export interface FindingsStore {
  /** null where they are not there, or not sound. */
  read(question: FindingsQuestion): Promise<ClipFindings | null>;
  keep(question: FindingsQuestion, findings: ClipFindings): Promise<void>;
}

/** What stays of a clip's onsets. Pure. */
export function clipFindings(onsets: ClipOnsets, { damagedFrames }: FrameTimes): ClipFindings {
  const { samples, clock, readout, exposure, tone, led, screens, ledTrace, screenTraces } = onsets;
  const pictures = pressPictures(onsets);
  const evidence = lightEvidence(samples, [led, ...screens], clock);
  const traces = [ledTrace, ...screenTraces];
  const [ledLight, ...screenLights] = [led, ...screens].map(
    ({ region }: OnsetSet, i): RegionFindings => ({
      ...evidence[i]!,
      region,
      pictures: pictures[samples.regions.findIndex((r) => r.region.name === region.name)]!,
      saturated: traces[i]!.saturated,
      clippedCells: traces[i]!.clippedCells,
      rowDelayS: traces[i]!.openS[0]! - clock.capturedAtS[0]!,
    }),
  );
  return {
    ...{ clock, readout, exposure, tone, led, screens, damagedFrames },
    frames: samples.frames,
    ledLight: ledLight!,
    screenLights,
  };
}
