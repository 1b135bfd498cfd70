/**
 * What the light of a clip says, without the light: changes, evidence, and pictures around the changes. All that is
 * decided, paired and counted afterwards starts here, so that it can be kept where the samples are too large to read.
 */
import type { ClipFacts, FrameTimes } from './clip/frameSource.js';
import type { ClipOnsets, OnsetOptions, OnsetRecipe } from './clipOnsets.js';
import { type LightEvidence, lightEvidence } from './measuredEvidence.js';
import { flagSharedSteps, type LightAroundLed, lightAround } from './onset/exposureSteps.js';
import type { OnsetSet } from './onset/onset.js';
import { screenOnsets } from './onset/screenOnsets.js';
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

/** What is left of a clip's light before any response level is asked for: plain data. */
export interface LightFindings
  extends Pick<ClipOnsets, 'clock' | 'readout' | 'exposure' | 'tone' | 'led' | 'screenTimes'> {
  /** Frames that are used. */
  readonly frames: number;
  readonly damagedFrames: number;
  readonly ledLight: RegionFindings;
  readonly aroundLed: LightAroundLed;
  /** One a screen region, in the order of the recipe. */
  readonly screenLights: readonly RegionFindings[];
}

/** The same with the changes of the screens at a response level. */
export interface ClipFindings extends LightFindings {
  /** In the order of `screenLights`. */
  readonly screens: readonly OnsetSet[];
}

/** All that they depend on before any level, but for lagreel itself. */
export interface FindingsQuestion extends Pick<OnsetOptions, 'camera' | 'readoutShown'> {
  readonly facts: ClipFacts;
  readonly recipe: OnsetRecipe;
}

/** A place where findings of clips are kept. */
export interface FindingsStore {
  /** null where they are not there, or not sound. */
  read(question: FindingsQuestion): Promise<LightFindings | null>;
  keep(question: FindingsQuestion, findings: LightFindings): Promise<void>;
}

/**
 * Where in time changes are looked for to tell quiet frames and those worth a picture, at whichever level latencies are
 * asked for: it would hardly move them.
 */
const EARLY_LEVEL = 0.1;

/** What stays of a clip's onsets. Pure. */
export function lightFindings(onsets: ClipOnsets, { damagedFrames }: FrameTimes): LightFindings {
  const { samples, clock, readout, exposure, tone, led, screenTimes, ledTrace, screenTraces } = onsets;
  const screens = screenOnsets(screenTimes, EARLY_LEVEL);
  const pictures = pressPictures(samples, clock, led, screens);
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
    ...{ clock, readout, exposure, tone, led, screenTimes, damagedFrames },
    frames: samples.frames,
    ledLight: ledLight!,
    aroundLed: lightAround(ledTrace),
    screenLights,
  };
}

/** With the changes of the screens at a response level, 0..1. Pure, and fast. */
export function findingsAt(light: LightFindings, level: number): ClipFindings {
  const screens = screenOnsets(light.screenTimes, level);
  return { ...light, screens: flagSharedSteps(screens, light.aroundLed, light.led.onsets) };
}
