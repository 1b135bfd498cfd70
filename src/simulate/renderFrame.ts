/** One camera frame of one prepared view: exposure, row by row, in linear light, then the sensor. */
import type { LumaPlane } from '../clip/frameSource.js';
import { type DisplayLight, displayLight } from './displayLight.js';
import { passerShade, secondLedLight, thumbCover } from './disturbances.js';
import { ledLight } from './ledLight.js';
import { codedSize } from './orient.js';
import type { Scene } from './scene.js';
import { type Schedule, type ScheduledChange, sceneSchedule } from './schedule.js';
import { sensor } from './sensor.js';
import { isShaken, shakeAt, wobbleAt } from './shake.js';
import type { ScreenPart, View } from './view.js';

/** Start of exposure of coded row `row` (may lie between rows) in the capture with index `capture`, s. */
export function exposureStartS(scene: Scene, capture: number, row: number): number {
  const { captureRateHz, readoutFraction } = scene.camera;
  return (capture + (readoutFraction * row) / codedSize(scene.picture).height) / captureRateHz;
}

/** Gain of one capture: the camera's own, wandering with the automatic exposure. */
function gainAt(scene: Scene, capture: number): number {
  const { drift, captureRateHz, exposureSteps } = scene.camera;
  let { gain } = scene.camera;
  for (const step of exposureSteps ?? []) {
    if (capture / captureRateHz >= step.atS) gain = scene.camera.gain * step.factor;
  }
  if (!drift) return gain;
  return gain * (1 + drift.depth * Math.sin((2 * Math.PI * capture) / (captureRateHz * drift.periodS)));
}

/** Mean of the lamp's light during an exposure, relative to its mean. */
function lampLight(scene: Scene, openS: number, closeS: number): number {
  const ripple = scene.room.ripple;
  if (!ripple) return 1;
  const w = 2 * Math.PI * ripple.rateHz;
  const phase = 2 * Math.PI * ripple.phase;
  const mean = (Math.sin(w * closeS + phase) - Math.sin(w * openS + phase)) / (w * (closeS - openS));
  return 1 + ripple.depth * mean;
}

/** The picture that has settled when a capture opens, and the changes that are still going on in it. */
function stateOf(
  changes: readonly ScheduledChange[],
  settleS: number,
  openS: number,
  closeS: number,
): { settled: number; active: readonly ScheduledChange[] } {
  let low = 0;
  let high = changes.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (changes[middle]!.atS + settleS <= openS) low = middle + 1;
    else high = middle;
  }
  let end = low;
  while (end < changes.length && changes[end]!.atS < closeS) end++;
  const settled = low > 0 ? changes[low - 1]!.to : (changes[0]?.from ?? 0);
  return { settled, active: end > low ? changes.slice(low, end) : [] };
}

/** One change of what both layers show together: content and step of what moves all the time. */
interface JointChange {
  readonly atS: number;
  readonly from: readonly [number, number];
  readonly to: readonly [number, number];
}

function jointChanges(schedule: Schedule): JointChange[] {
  const all = [
    ...schedule.changes.map((change) => ({ layer: 0, change })),
    ...schedule.idleChanges.map((change) => ({ layer: 1, change })),
  ].sort((a, b) => a.change.atS - b.change.atS);
  let state: readonly [number, number] = [0, 0];
  return all.map(({ layer, change }) => {
    const from = state;
    state = layer === 0 ? [change.to, from[1]] : [from[0], change.to];
    return { atS: change.atS, from, to: state };
  });
}

function jointState(
  changes: readonly JointChange[],
  settleS: number,
  openS: number,
  closeS: number,
): { settled: readonly [number, number]; active: readonly JointChange[] } {
  const first = changes.findIndex((c) => c.atS + settleS > openS);
  const from = first < 0 ? changes.length : first;
  const settled = changes[from - 1]?.to ?? changes[0]?.from ?? [0, 0];
  return { settled, active: changes.slice(from).filter((c) => c.atS < closeS) };
}

function middles(edges: Int32Array): Float64Array {
  return Float64Array.from({ length: edges.length - 1 }, (_, i) => 0.5 * (edges[i]! + edges[i + 1]!));
}

/** A change that is going on: difference of the pictures over the view, and the start of its scan. */
interface GoingChange {
  readonly pixels: Float32Array;
  readonly atS: number;
}

/** Times from a display frame's start until the first and the last of each row's (or column's) lines are drawn, s. */
function scanDelays(part: ScreenPart, light: DisplayLight): { first: Float64Array; last: Float64Array } {
  const count = part.heights.length / 2;
  const first = new Float64Array(count);
  const last = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    const a = light.lineDelayS(part.heights[2 * i]!);
    const b = light.lineDelayS(part.heights[2 * i + 1]!);
    first[i] = Math.min(a, b);
    last[i] = Math.max(a, b);
  }
  return { first, last };
}

// The inner loops stand alone, over plain arrays, because the compiler makes them three times as fast that way.
function setScaled(
  line: Float32Array,
  count: number,
  source: Float32Array,
  offset: number,
  factor: number,
): void {
  for (let i = 0; i < count; i++) line[i] = factor * source[offset + i]!;
}

function addScaled(
  line: Float32Array,
  from: number,
  to: number,
  source: Float32Array,
  offset: number,
  factor: number,
): void {
  for (let i = from; i < to; i++) line[i] = line[i]! + factor * source[offset + i]!;
}

function addChange(
  line: Float32Array,
  from: number,
  to: number,
  change: Float32Array,
  offset: number,
  brighter: number,
  darker: number,
): void {
  for (let i = from; i < to; i++) {
    const d = change[offset + i]!;
    line[i] = line[i]! + d * (d > 0 ? brighter : darker);
  }
}

/** Renders the capture `capture` of a view into `out` (`columns * rows` without the view's margin). */
export type FrameRenderer = (capture: number, out: LumaPlane) => void;

/**
 * A renderer of one view of a scene. `margin` is the number of cells around the wanted ones that the view was
 * prepared with (at least one more than the shake in cells, or 0 without shake). Motion within one exposure is not
 * simulated: each frame is shifted by the shake at its middle.
 */
export function frameRenderer(
  scene: Scene,
  view: View,
  margin: number,
  schedule: Schedule = sceneSchedule(scene),
): FrameRenderer {
  const { camera, led, room } = scene;
  const coded = codedSize(scene.picture);
  const periodS = 1 / camera.captureRateHz;
  const exposureS = camera.exposureFraction * periodS;
  const light = displayLight(scene.screen);
  const joint = scene.content.scroll ? jointChanges(schedule) : null;
  const doubled = new Set(camera.doubledFrames);
  const shaken = isShaken(scene);
  const shake = shakeAt(scene);
  const wobble = wobbleAt(scene);
  const { columns, rows, grid } = view;
  const outColumns = columns - 2 * margin;
  const outRows = rows - 2 * margin;
  const blockWidth = (grid.xEdges[columns]! - grid.xEdges[0]!) / columns;
  const blockHeight = (grid.yEdges[rows]! - grid.yEdges[0]!) / rows;
  const develop = sensor(camera, scene.seed, 1 / Math.sqrt(blockWidth * blockHeight));
  const lineUpper = new Float32Array(columns);
  const lineLower = new Float32Array(columns);
  const lineOut = new Float32Array(columns);
  const lines: Float32Array[] = [];
  const middleX = middles(grid.xEdges);
  const middleY = middles(grid.yEdges);

  let settledPixels: Float32Array = new Float32Array(0);
  let going: readonly GoingChange[] = [];
  const parts = view.screenParts.map((part) => ({ part, ...scanDelays(part, light) }));

  const addScreen = (
    { part, first, last }: (typeof parts)[number],
    row: number,
    openS: number,
    closeS: number,
    line: Float32Array,
  ): void => {
    const offset = row * columns;
    const { left, right } = part;
    if (part.along === 'rows') {
      const firstS = first[row]!;
      const lastS = last[row]!;
      const back = light.backlight(openS, closeS, firstS, lastS);
      if (back > 0) addScaled(line, left, right, settledPixels, offset, back);
      for (const { pixels, atS } of going) {
        const up = light.share(openS, closeS, firstS, lastS, atS, true);
        const down = light.share(openS, closeS, firstS, lastS, atS, false);
        if (up !== 0 || down !== 0) addChange(line, left, right, pixels, offset, up, down);
      }
      return;
    }
    for (let i = left; i < right; i++) {
      const firstS = first[i]!;
      const lastS = last[i]!;
      let sum = light.backlight(openS, closeS, firstS, lastS) * settledPixels[offset + i]!;
      for (const { pixels, atS } of going) {
        const change = pixels[offset + i]!;
        if (change !== 0) sum += change * light.share(openS, closeS, firstS, lastS, atS, change > 0);
      }
      line[i] = line[i]! + sum;
    }
  };

  /** Sensor values of the view's row `row`, exposed from `openS` to `closeS`. */
  const exposeRow = (row: number, openS: number, closeS: number, gain: number, line: Float32Array): void => {
    const offset = row * columns;
    const lamp = room.ambientLight * lampLight(scene, openS, closeS);
    setScaled(line, columns, view.reflectance, offset, lamp);
    const shade = room.passer ? passerShade(room.passer, coded.width, 0.5 * (openS + closeS)) : null;
    if (shade) for (let i = 0; i < columns; i++) line[i] = line[i]! * (1 - shade(middleX[i]!));
    const secondEnd = view.secondSpan[2 * row + 1]!;
    if (room.secondLed && secondEnd > 0) {
      const lit = secondLedLight(room.secondLed, openS, closeS);
      addScaled(line, view.secondSpan[2 * row]!, secondEnd, view.secondShare, offset, lit);
    }
    const ledEnd = view.ledSpan[2 * row + 1]!;
    if (ledEnd > 0) {
      const lit = ledLight(led, schedule.presses, openS, closeS);
      if (lit > 0) addScaled(line, view.ledSpan[2 * row]!, ledEnd, view.ledShare, offset, lit);
    }
    for (const entry of parts) {
      if (row >= entry.part.top && row < entry.part.bottom) addScreen(entry, row, openS, closeS, line);
    }
    const cover = room.thumb ? thumbCover(room.thumb, middleY[row]!, 0.5 * (openS + closeS)) : null;
    if (room.thumb && cover) {
      const skin = lamp * room.thumb.reflectance;
      for (let i = 0; i < columns; i++) {
        const x = middleX[i]!;
        if (x >= cover[0] && x < cover[1]) line[i] = skin;
      }
    }
    if (gain !== 1) for (let i = 0; i < columns; i++) line[i] = line[i]! * gain;
  };

  return (capture, out) => {
    let shown = capture;
    while (doubled.has(shown)) shown--;
    const startS = exposureStartS(scene, shown, 0);
    const endS = exposureStartS(scene, shown, coded.height) + exposureS;
    const content = stateOf(schedule.changes, light.settleS, startS, endS);
    const idle = stateOf(schedule.idleChanges, light.settleS, startS, endS);
    if (view.screenParts.length > 0) {
      settledPixels = view.pictures.settled(content.settled, idle.settled);
      if (joint) {
        const { settled, active } = jointState(joint, light.settleS, startS, endS);
        settledPixels = view.pictures.settled(...settled);
        going = active.map((c) => ({ pixels: view.pictures.between(c.from, c.to), atS: c.atS }));
      } else
        going = [
          ...content.active.map((c) => ({
            pixels: view.pictures.change('content', c.from, c.to),
            atS: c.atS,
          })),
          ...idle.active.map((c) => ({ pixels: view.pictures.change('idle', c.from, c.to), atS: c.atS })),
        ];
    }
    const gain = gainAt(scene, shown);
    const { xPx, yPx } = shaken ? shake(0.5 * (startS + endS)) : { xPx: 0, yPx: 0 };
    const { turn, zoom } = wobble(0.5 * (startS + endS));
    const fromColumn = margin - xPx / blockWidth;
    const fromRow = margin - yPx / blockHeight;
    const column0 = Math.floor(fromColumn);
    const row0 = Math.floor(fromRow);
    const acrossShare = fromColumn - column0;
    const downShare = fromRow - row0;
    for (let row = 0; row < outRows; row++) {
      const codedTop = grid.yEdges[row + margin]!;
      const codedRow = 0.5 * (codedTop + grid.yEdges[row + margin + 1]! - 1);
      const openS = exposureStartS(scene, shown, codedRow);
      const closeS = openS + exposureS;
      if (!camera.wobble) exposeRow(row + row0, openS, closeS, gain, lineUpper);
      let line = lineUpper;
      if (camera.wobble) {
        // Turned and scaled about the middle of the coded picture: each place of the row lies in rows of its own.
        const place = (i: number): { column: number; row: number } => {
          const x = middleX[i + margin]! - 0.5 * coded.width;
          const y = middleY[row + margin]! - 0.5 * coded.height;
          return {
            column: i + margin + (zoom * x + turn * y - xPx) / blockWidth,
            row: row + margin + (zoom * y - turn * x - yPx) / blockHeight,
          };
        };
        const ends = [place(0).row, place(outColumns - 1).row];
        const top = Math.floor(Math.min(...ends));
        const bottom = Math.floor(Math.max(...ends)) + 1;
        for (let k = top; k <= bottom; k++) {
          lines[k - top] ??= new Float32Array(columns);
          exposeRow(k, openS, closeS, gain, lines[k - top]!);
        }
        for (let i = 0; i < outColumns; i++) {
          const at = place(i);
          const k = Math.floor(at.column);
          const r = Math.floor(at.row);
          const across = at.column - k;
          const upper = lines[r - top]!;
          const lower = lines[r - top + 1]!;
          lineOut[i] =
            (upper[k]! * (1 - across) + upper[k + 1]! * across) * (1 - at.row + r) +
            (lower[k]! * (1 - across) + lower[k + 1]! * across) * (at.row - r);
        }
        line = lineOut;
      } else if (camera.shakePx > 0) {
        exposeRow(row + row0 + 1, openS, closeS, gain, lineLower);
        for (let i = 0; i < outColumns; i++) {
          const k = i + column0;
          const upper = lineUpper[k]! * (1 - acrossShare) + lineUpper[k + 1]! * acrossShare;
          const lower = lineLower[k]! * (1 - acrossShare) + lineLower[k + 1]! * acrossShare;
          lineOut[i] = upper * (1 - downShare) + lower * downShare;
        }
        line = lineOut;
      }
      develop(line, outColumns, shown, codedTop, grid.xEdges, margin, out, row * outColumns);
    }
  };
}
