/** Measures one clip of the matrix in memory, with drawn and with found regions, and compares with the truth. */
import type { PixelRect } from '../../src/clip/frameSource.js';
import { AnalysisError } from '../../src/errors.js';
import { measureClip } from '../../src/measure.js';
import { emptyRecipe } from '../../src/record/parseRecipe.js';
import type { ClipRecord } from '../../src/record/record.js';
import { findRegions } from '../../src/region/findRegions.js';
import type { Region } from '../../src/region/region.js';
import { type SimulatedSource, simulateSource } from '../../src/simulate/renderSource.js';
import type { Scene } from '../../src/simulate/scene.js';
import { sceneRegions } from '../../src/simulate/sceneRegions.js';
import { latencyTruthMs } from '../../src/simulate/truth.js';
import type { MatrixClip } from './drawClip.js';

/** What became of one clip measured with one set of regions. */
export interface Outcome {
  /** `refused`: an error that says why. */
  readonly fitness: 'fit' | 'usable with care' | 'unfit' | 'refused';
  readonly reasons: readonly string[];
  /** Presses that were answered and whose LED could be seen, times regions. */
  readonly expected: number;
  readonly found: number;
  /** Reported latencies that belong to no such press. */
  readonly invented: number;
  readonly inventedUnflagged: number;
  readonly flagged: number;
  /** Wrong by more than one camera frame. */
  readonly wrong: number;
  readonly wrongUnflagged: number;
  /** Errors of the found ones, camera frames. */
  readonly errorsT: readonly number[];
}

/** What region finding did. */
export type Finding = 'right' | 'right but unsure' | 'said unsure' | 'found nothing' | 'silently wrong';

/** Both runs over one clip. */
export interface Judgement {
  readonly clip: MatrixClip;
  readonly drawn: Outcome;
  readonly found: Outcome;
  readonly finding: Finding;
  /** Why, for the list of failures. */
  readonly detail: string;
}

/** Measures a clip twice and judges it. */
export async function judgeClip(
  clip: MatrixClip,
  source: SimulatedSource = simulateSource(clip.scene),
): Promise<Judgement> {
  const { scene } = clip;
  const hand = sceneRegions(scene);
  const drawn = await outcomeOf(clip, source, [
    { name: 'led', role: 'led', ...hand.led },
    { name: 'screen', role: 'screen', ...hand.screen },
  ]);
  const search = await findRegions(source, { rateHz: scene.camera.captureRateHz });
  const led = search.regions.find((r) => r.role === 'led');
  const screens = search.regions.filter((r) => r.role === 'screen');
  const complete = led !== undefined && screens.length > 0;
  const right = complete && isLed(scene, led) && screens.every((s) => isScreen(scene, s));
  const finding: Finding = !complete
    ? 'found nothing'
    : right
      ? search.unsure
        ? 'right but unsure'
        : 'right'
      : search.unsure
        ? 'said unsure'
        : 'silently wrong';
  const found: Outcome = complete ? await outcomeOf(clip, source, search.regions) : refused(['no regions']);
  const detail =
    finding === 'right'
      ? ''
      : `${search.notes.join(' ')} led ${rectText(led)} (true ${scene.led.centerXPx.toFixed(0)},${scene.led.centerYPx.toFixed(0)}), screen ${screens.map(rectText).join(' ')} (true ${rectText(scene.content.rect)})`;
  return { clip, drawn, found, finding, detail };
}

function rectText(rect: PixelRect | undefined): string {
  return rect ? `${rect.x},${rect.y},${rect.width}x${rect.height}` : 'none';
}

function isLed(scene: Scene, { x, y, width, height }: PixelRect): boolean {
  const { centerXPx, centerYPx } = scene.led;
  const inside = centerXPx > x && centerXPx < x + width && centerYPx > y && centerYPx < y + height;
  return inside && width < 0.25 * scene.picture.widthPx;
}

/** Most of the region answers, or the region holds most of what answers without being mostly something else. */
function isScreen(scene: Scene, region: PixelRect): boolean {
  const { rect } = scene.content;
  const width = Math.min(rect.x + rect.width, region.x + region.width) - Math.max(rect.x, region.x);
  const height = Math.min(rect.y + rect.height, region.y + region.height) - Math.max(rect.y, region.y);
  if (width <= 0 || height <= 0) return false;
  return width * height >= 0.4 * region.width * region.height;
}

function refused(reasons: readonly string[]): Outcome {
  return {
    fitness: 'refused',
    reasons,
    expected: 0,
    found: 0,
    invented: 0,
    inventedUnflagged: 0,
    flagged: 0,
    wrong: 0,
    wrongUnflagged: 0,
    errorsT: [],
  };
}

/** Measures a clip with some regions and compares with the truth. */
export async function outcomeOf(
  clip: MatrixClip,
  source: SimulatedSource,
  regions: readonly Region[],
): Promise<Outcome> {
  const { scene, told } = clip;
  const goesOff = scene.led.edge === 'goes-off-on-press';
  const recipe = {
    ...emptyRecipe({ file: source.facts.file, sha256: source.facts.sha256, bytes: source.facts.bytes }),
    regions,
    capture: {
      rateHz: null,
      exposureFraction: null,
      readoutFraction: told.readout ? scene.camera.readoutFraction : null,
    },
    display: { refreshHz: told.refresh ? scene.screen.refreshHz : null },
    cue: {
      edge: goesOff && told.edge ? ('release' as const) : ('press' as const),
      delayMs: 0,
      delayUncertaintyMs: 0,
    },
  };
  let record: ClipRecord;
  try {
    ({ record } = await measureClip(source, recipe));
  } catch (error) {
    if (error instanceof AnalysisError) return refused([error.code]);
    throw error;
  }
  return compare(clip, source, record, recipe.response.level, regions);
}

/** True where the LED cannot be seen around a moment. */
function isHidden(scene: Scene, atS: number): boolean {
  const thumb = scene.room.thumb;
  if (!thumb) return false;
  return thumb.moments.some((m) => atS > m.fromS - thumb.slideS - 0.03 && atS < m.toS + thumb.slideS + 0.03);
}

function compare(
  clip: MatrixClip,
  source: SimulatedSource,
  record: ClipRecord,
  level: number,
  regions: readonly Region[],
): Outcome {
  const { scene } = clip;
  const periodMs = 1000 / scene.camera.captureRateHz;
  const counts = {
    expected: 0,
    found: 0,
    invented: 0,
    inventedUnflagged: 0,
    flagged: 0,
    wrong: 0,
    wrongUnflagged: 0,
  };
  const errorsT: number[] = [];
  for (const region of regions.filter((r) => r.role === 'screen')) {
    const truthMs = latencyTruthMs(scene, region, level);
    const matched = new Set<number>();
    source.truth.presses.forEach((press, i) => {
      const trueMs = truthMs[i];
      const hidden = isHidden(scene, press.pressS);
      if (trueMs === null || trueMs === undefined) return;
      if (!hidden) counts.expected++;
      // A slow LED is found where it begins or, if that is lost in noise, later in its rise.
      const reachS = (2.5 * periodMs) / 1000 + scene.led.riseMs / 1000;
      const near = record.presses.filter(
        (p) => p.status === 'measured' && Math.abs(p.ledOnsetS - press.pressS) < reachS,
      );
      for (const reported of near) {
        const response = reported.responses.find((r) => r.region === region.name);
        if (response?.status !== 'measured' || response.latencyMs === undefined) continue;
        if (matched.has(reported.index)) continue;
        matched.add(reported.index);
        const flagged = response.flags.length > 0 || reported.flags.length > 0;
        const errorT = (response.latencyMs - trueMs) / periodMs;
        if (!hidden) counts.found++;
        errorsT.push(errorT);
        if (flagged) counts.flagged++;
        if (Math.abs(errorT) > 1) {
          counts.wrong++;
          if (!flagged) counts.wrongUnflagged++;
        }
        break;
      }
    });
    for (const reported of record.presses) {
      const response = reported.responses.find((r) => r.region === region.name);
      if (reported.status !== 'measured' || response?.status !== 'measured') continue;
      if (matched.has(reported.index)) continue;
      counts.invented++;
      if (response.flags.length === 0 && reported.flags.length === 0) counts.inventedUnflagged++;
    }
  }
  return {
    fitness: record.fitness.class,
    reasons: record.fitness.reasons.filter((r) => r.severity !== 'note').map((r) => r.code),
    ...counts,
    errorsT,
  };
}
