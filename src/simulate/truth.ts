/**
 * What really happened in a scene, without any camera. Conventions:
 * - A press happens when the LED's edge begins.
 * - A response is the display's own light in linear units, averaged over the region; each pixel row is drawn evenly
 *   over its own share of the scan. Levels are shares of the way from the settled picture before to the settled
 *   picture after; what the picture does later (falling back) is left out.
 * - A sprite or a menu hardly changes the region's mean: there the share is that of the projection on the change,
 *   sum d^2 s / sum d^2 over the pixels' changes d (method, section 3).
 * - Tube: a line has passed every level when the first beam with the new picture reaches it.
 * - Strobed: the envelope is the light of whole pulses; a level is passed at the start of the first pulse that gives
 *   at least that share of the new light (first light: 1 %).
 * - Backlight dimmed by pulses: the envelope, that is the cells' own response.
 */
import type { PixelRect } from '../clip/frameSource.js';
import { displayLight } from './displayLight.js';
import type { Scene } from './scene.js';
import { type Schedule, sceneSchedule } from './schedule.js';
import { scannedIntegral, scannedStep } from './stepResponse.js';
import { pixelGrid, prepareView } from './view.js';

/** A level of a response: its first light, or a share of the transition (0.1, 0.5, 0.9 in reports). */
export type ResponseLevel = 'first-light' | number;

/** How a region's pixels make one share: their mean light, or the projection on the change. */
export type Weighting = 'mean' | 'projection';

/** What a simulated clip is known to contain. Plain data; times in s on the capture clock. */
export interface SceneTruth extends Schedule {
  readonly scene: Scene;
  /** Capture index of each frame that was delivered (dropped ones are missing). */
  readonly captureIndex: readonly number[];
  readonly periodS: number;
  /** One refresh of the display, s, and the start of its frame 0. */
  readonly refreshS: number;
  readonly refreshPhaseS: number;
  readonly fixedDelayMs: number;
}

/** The truth about a scene. */
export function sceneTruth(scene: Scene): SceneTruth {
  const dropped = new Set(scene.camera.droppedFrames);
  const refreshS = 1 / scene.screen.refreshHz;
  return {
    ...sceneSchedule(scene),
    scene,
    captureIndex: Array.from({ length: scene.camera.frames }, (_, i) => i).filter((i) => !dropped.has(i)),
    periodS: 1 / scene.camera.captureRateHz,
    refreshS,
    refreshPhaseS: scene.screen.phase * refreshS,
    fixedDelayMs: scene.latency.fixedDelayMs,
  };
}

/** The weight of one pixel row of a region in its response, apart for brighter and darker pixels. */
interface RowWeight {
  readonly firstS: number;
  readonly lastS: number;
  readonly brighter: number;
  readonly darker: number;
}

function rowWeights(
  scene: Scene,
  uprightRect: PixelRect,
  from: number,
  to: number,
  by: Weighting,
): RowWeight[] {
  // Seen upright, lines run along rows whatever the container's rotation.
  const upright: Scene = {
    ...scene,
    picture: { ...scene.picture, rotationDeg: 0 },
    room: { ...scene.room, reflection: null },
  };
  const view = prepareView(upright, pixelGrid(uprightRect, 0));
  const part = view.screenParts[0];
  if (!part) return [];
  const change = view.pictures.change('content', from, to);
  const light = displayLight(scene.screen);
  const weights: RowWeight[] = [];
  for (let row = part.top; row < part.bottom; row++) {
    let brighter = 0;
    let darker = 0;
    for (let column = part.left; column < part.right; column++) {
      const d = change[row * view.columns + column]!;
      const weight = by === 'mean' ? d : d * d;
      if (d > 0) brighter += weight;
      else darker += weight;
    }
    if (brighter === 0 && darker === 0) continue;
    const a = light.lineDelayS(part.heights[2 * row]!);
    const b = light.lineDelayS(part.heights[2 * row + 1]!);
    weights.push({ firstS: Math.min(a, b), lastS: Math.max(a, b), brighter, darker });
  }
  return weights;
}

/** Time from a change's first line until the region passes the level, s; null where the region does not change. */
function delayToLevel(
  scene: Scene,
  rows: readonly RowWeight[],
  changeS: number,
  level: ResponseLevel,
): number | null {
  const total = rows.reduce((sum, row) => sum + row.brighter + row.darker, 0);
  const size = rows.reduce((sum, row) => sum + Math.abs(row.brighter) + Math.abs(row.darker), 0);
  if (rows.length === 0 || Math.abs(total) < 1e-6 * size) return null;
  const light = displayLight(scene.screen);
  const { rising, falling } = light;
  if (scene.screen.display.kind === 'strobed' && light.gate) {
    const { periodS, startS, duty } = light.gate;
    const litS = duty * periodS;
    const need = level === 'first-light' ? 0.01 : level;
    const first = Math.floor((changeS - startS - litS) / periodS);
    for (let n = first; n < first + 1000; n++) {
      const fromS = startS + n * periodS - changeS;
      let sum = 0;
      for (const { firstS, lastS, brighter, darker } of rows) {
        sum += brighter * scannedIntegral(rising, fromS, fromS + litS, firstS, lastS);
        sum += darker * scannedIntegral(falling, fromS, fromS + litS, firstS, lastS);
      }
      if (sum / (litS * total) >= need) return fromS;
    }
    return null;
  }
  if (level === 'first-light') return Math.min(...rows.map((row) => row.firstS));
  const shareAt = (tS: number): number => {
    let sum = 0;
    for (const { firstS, lastS, brighter, darker } of rows) {
      sum +=
        brighter * scannedStep(rising, tS, firstS, lastS) + darker * scannedStep(falling, tS, firstS, lastS);
    }
    return sum / total;
  };
  // First passage: the share may overshoot later, or dip where brighter and darker pixels differ in speed.
  const stepS = light.settleS / 400;
  let low = 0;
  let high = stepS;
  while (shareAt(high) < level) {
    if (high > 2 * light.settleS) return null;
    low = high;
    high += stepS;
  }
  for (let i = 0; i < 60; i++) {
    const middle = 0.5 * (low + high);
    if (shareAt(middle) < level) low = middle;
    else high = middle;
  }
  return 0.5 * (low + high);
}

/**
 * Exact time (s, capture clock) at which a region (upright px) passes a level, one entry a press; null for a press
 * without an answer or a region that does not change. `by` defaults to the projection for sprites, else the mean.
 */
export function responseTruth(
  scene: Scene,
  uprightRect: PixelRect,
  level: ResponseLevel,
  by: Weighting = scene.content.kind === 'sprite' || scene.content.menuItems ? 'projection' : 'mean',
): (number | null)[] {
  const { presses, changes } = sceneSchedule(scene);
  // All presses with the same change share their delay, unless a strobe's phase comes in.
  const delays = new Map<string, number | null>();
  return presses.map(({ index }) => {
    const change = changes.find((c) => c.press === index);
    if (!change) return null;
    const strobed = scene.screen.display.kind === 'strobed';
    const key = `${change.from} ${change.to} ${strobed ? change.atS : ''}`;
    let delayS = delays.get(key);
    if (delayS === undefined) {
      const rows = rowWeights(scene, uprightRect, change.from, change.to, by);
      delayS = delayToLevel(scene, rows, change.atS, level);
      delays.set(key, delayS);
    }
    return delayS === null ? null : change.atS + delayS;
  });
}

/** Exact latency of each press in a region (upright px), ms, at a level (10 % by default); null where there is none. */
export function latencyTruthMs(
  scene: Scene,
  uprightRect: PixelRect,
  level: ResponseLevel = 0.1,
  by?: Weighting,
): (number | null)[] {
  const { presses } = sceneSchedule(scene);
  return responseTruth(scene, uprightRect, level, by).map((onsetS, i) =>
    onsetS === null ? null : (onsetS - presses[i]!.pressS) * 1000,
  );
}
