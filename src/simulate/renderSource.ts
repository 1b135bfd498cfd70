/** A scene as a clip in memory: no codec, exact exposures, the same frames whatever rectangles are asked for. */
import type {
  ClipFacts,
  FrameSource,
  FrameTimes,
  LumaPlane,
  PixelRect,
  ReadOptions,
  StillPicture,
} from '../clip/frameSource.js';
import { expected } from '../errors.js';
import { normaliseLuma, type TimeBase } from '../units.js';
import { checkScene } from './checkScene.js';
import { codedSize } from './orient.js';
import { type FrameRenderer, frameRenderer } from './renderFrame.js';
import type { Scene } from './scene.js';
import { sceneHash } from './sceneHash.js';
import { isShaken, shakeLimitPx } from './shake.js';
import { type SceneTruth, sceneTruth } from './truth.js';
import { blockGrid, pixelGrid, prepareView } from './view.js';

const TIME_BASE: TimeBase = [1, 90000];
/** Frames between two breaths, in which an abort can arrive and progress is told. */
const FRAMES_PER_BREATH = 200;

/** A clip in memory that knows its own truth. */
export interface SimulatedSource extends FrameSource {
  readonly truth: SceneTruth;
}

/** The rate at which the scene's file plays, Hz. */
export function mediaRateHz(scene: Scene): number {
  return scene.camera.storedRateHz ?? scene.camera.captureRateHz;
}

function factsOf(scene: Scene, frames: number): ClipFacts {
  const { camera } = scene;
  const size = codedSize(scene.picture);
  const tenBit = camera.bitDepth === 10;
  return {
    file: `${scene.name}.simulated`,
    bytes: 0,
    sha256: sceneHash(scene),
    container: 'simulated',
    codec: 'simulated',
    codedWidth: size.width,
    codedHeight: size.height,
    orientation: { rotationDeg: scene.picture.rotationDeg, mirrored: false },
    pixelFormat: tenBit ? 'gray10le' : 'gray',
    bitDepth: camera.bitDepth,
    range: camera.range,
    rangeTagged: true,
    transfer: camera.toneCurve === 'phone' ? 'bt709' : camera.toneCurve,
    transferTagged: true,
    timeBase: TIME_BASE,
    declaredFrames: frames,
    nominalRateHz: mediaRateHz(scene),
    captureRateTagHz: camera.captureTag ? camera.captureRateHz : null,
    editList: 'none',
    decoder: 'simulated',
    warnings: [],
  };
}

function checkRect(rect: PixelRect, width: number, height: number): void {
  const { x, y } = rect;
  const ok =
    [x, y, rect.width, rect.height].every(Number.isInteger) &&
    x >= 0 &&
    y >= 0 &&
    rect.width >= 1 &&
    rect.height >= 1 &&
    x + rect.width <= width &&
    y + rect.height <= height;
  if (!ok)
    throw expected(
      'rect',
      `whole pixels inside the coded picture of ${width}x${height}`,
      JSON.stringify(rect),
    );
}

/** A renderer for one rectangle of the coded picture. */
export function rectRenderer(scene: Scene, rect: PixelRect): FrameRenderer {
  const margin = isShaken(scene) ? Math.ceil(shakeLimitPx(scene)) + 1 : 0;
  return frameRenderer(scene, prepareView(scene, pixelGrid(rect, margin)), margin);
}

/**
 * The clip of a scene. Frames are rendered while they are read; nothing is kept between calls. Speed: about 20 to
 * 40 ns a pixel and frame. The overview averages light over blocks before the sensor, not code values after it.
 */
export function simulateSource(scene: Scene): SimulatedSource {
  checkScene(scene);
  const truth = sceneTruth(scene);
  const { width, height } = codedSize(scene.picture);
  const facts = factsOf(scene, truth.captureIndex.length);
  const ticksPerFrame = TIME_BASE[1] / TIME_BASE[0] / mediaRateHz(scene);
  const plane = (count: number): LumaPlane =>
    facts.bitDepth > 8 ? new Uint16Array(count) : new Uint8Array(count);

  const eachFrame = async (
    render: (capture: number) => void,
    deliver: (index: number) => unknown,
    options: ReadOptions,
  ): Promise<FrameTimes> => {
    const { signal, onProgress } = options;
    signal?.throwIfAborted();
    const ticks: number[] = [];
    let stoppedEarly = false;
    for (const [index, capture] of truth.captureIndex.entries()) {
      if (index % FRAMES_PER_BREATH === FRAMES_PER_BREATH - 1) {
        await new Promise((resolve) => setTimeout(resolve, 0));
        onProgress?.(index);
      }
      signal?.throwIfAborted();
      render(capture);
      ticks.push(Math.round((capture - truth.captureIndex[0]!) * ticksPerFrame));
      if (deliver(index) === false) {
        stoppedEarly = true;
        break;
      }
    }
    onProgress?.(ticks.length);
    return { ptsTicks: Float64Array.from(ticks), timeBase: TIME_BASE, stoppedEarly, damagedFrames: 0 };
  };

  const overview = (maxWidth: number): { render: FrameRenderer; columns: number; rows: number } => {
    if (!Number.isInteger(maxWidth) || maxWidth < 1)
      throw expected('maxWidth', 'a positive whole number', maxWidth);
    const columns = Math.min(maxWidth, width);
    const rows = Math.max(1, Math.round((height * columns) / width));
    const blocksShaken = (shakeLimitPx(scene) * columns) / width;
    const margin = isShaken(scene) ? Math.ceil(blocksShaken) + 1 : 0;
    const view = prepareView(scene, blockGrid(width, height, columns, rows, margin));
    return { render: frameRenderer(scene, view, margin), columns, rows };
  };

  return {
    facts,
    truth,
    async readRects(rects, onFrame, options = {}) {
      if (rects.length === 0) throw expected('rects', 'at least one rectangle', '[]');
      for (const rect of rects) checkRect(rect, width, height);
      const renderers = rects.map((rect) => rectRenderer(scene, rect));
      const planes = rects.map((rect) => plane(rect.width * rect.height));
      return eachFrame(
        (capture) => {
          for (const [i, render] of renderers.entries()) render(capture, planes[i]!);
        },
        (index) => onFrame(index, planes),
        options,
      );
    },
    async readOverview(maxWidth, onFrame, options = {}) {
      const { render, columns, rows } = overview(maxWidth);
      const small = plane(columns * rows);
      return eachFrame(
        (capture) => render(capture, small),
        (index) => onFrame(index, small, columns, rows),
        options,
      );
    },
    async readStill(mediaS, maxWidth): Promise<StillPicture> {
      const turned = scene.picture.rotationDeg === 90 || scene.picture.rotationDeg === 270;
      const uprightWidth = Math.min(maxWidth, scene.picture.widthPx);
      const uprightHeight = Math.max(
        1,
        Math.round((scene.picture.heightPx * uprightWidth) / scene.picture.widthPx),
      );
      const { render, columns, rows } = overview(turned ? uprightHeight : uprightWidth);
      const wanted = Math.round(mediaS * mediaRateHz(scene)) + truth.captureIndex[0]!;
      const capture = truth.captureIndex.findLast((k) => k <= wanted) ?? truth.captureIndex[0]!;
      const small = plane(columns * rows);
      render(capture, small);
      return uprightStill(small, columns, rows, facts);
    },
  };
}

/** Turns coded luma upright and into grey pixels for people. */
function uprightStill(coded: LumaPlane, columns: number, rows: number, facts: ClipFacts): StillPicture {
  const turn = facts.orientation.rotationDeg;
  const [width, height] = turn === 90 || turn === 270 ? [rows, columns] : [columns, rows];
  const rgb = new Uint8Array(3 * width * height);
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < width; x++) {
      const [column, row] =
        turn === 0
          ? [x, y]
          : turn === 90
            ? [y, rows - 1 - x]
            : turn === 180
              ? [columns - 1 - x, rows - 1 - y]
              : [columns - 1 - y, x];
      const luma = normaliseLuma(coded[row * columns + column]!, facts.bitDepth, facts.range);
      rgb.fill(
        Math.round(255 * Math.min(1, Math.max(0, luma))),
        3 * (y * width + x),
        3 * (y * width + x) + 3,
      );
    }
  }
  return { width, height, rgb };
}
