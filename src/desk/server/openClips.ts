/** Clips that the desk has open: what was read of them once, and their pictures. Bounded in number and bytes. */
import { fileState } from '../../clip/clipFile.js';
import { type ClipFacts, type FrameSource, uprightSize } from '../../clip/frameSource.js';
import { readFrameTicks } from '../../clip/frameTicks.js';
import { openClip } from '../../clip/openClip.js';
import { picturesFrom } from '../../clip/picturesFrom.js';
import { jpegPicture } from '../../report/pictures/jpegPicture.js';
import { type FrameReel, frameReel } from '../../viewing/frameReel.js';
import type { DeskFile } from './deskFolder.js';

/** A clip as the server has it open; plain data. */
export interface BenchClip {
  readonly path: string;
  readonly facts: ClipFacts;
  /** See `fileState`; readings of a file in another state are refused. */
  readonly state: string;
}

/** A clip that is open. */
export interface OpenClip {
  readonly file: DeskFile;
  readonly source: FrameSource;
  /** Presentation times of all frames, ticks. */
  ticks(): Promise<Float64Array>;
  /** The JPEG of a frame, its longest side at most `maxPx`. */
  frame(index: number, maxPx: number): Promise<Uint8Array>;
  thumbnail(): Promise<Uint8Array>;
  /** For the workbench. */
  readonly benchClip: BenchClip;
}

/** All open clips. */
export interface OpenClips {
  open(file: DeskFile): Promise<OpenClip>;
  close(): Promise<void>;
}

/** Facts of so many clips are kept; a folder has rarely more. */
const CLIPS = 200;
/** FFmpegs that may stand by for stepping. */
const REELS = 2;
const REEL_BYTES = 32 * 1024 * 1024;
const THUMBNAIL_PX = 320;
const THUMBNAIL_AT = 0.4;
/** Thumbnails that are made at a time. */
const PAINTERS = 2;

/** Opens clips. */
export function openClips(signal: AbortSignal): OpenClips {
  const clips = new Map<string, { readonly state: string; readonly clip: Promise<OpenClip> }>();
  const reels = new Map<string, FrameReel>();
  const inTurn = turns(PAINTERS);

  async function make(file: DeskFile): Promise<OpenClip> {
    const state = await fileState(file.path);
    const source = await inTurn(() => openClip(file.path, signal));
    const { facts } = source;
    const upright = uprightSize(facts);
    let ticks: Promise<Float64Array> | null = null;
    let thumbnail: Promise<Uint8Array> | null = null;

    const ticksOnce = () => {
      ticks ??= readFrameTicks(file.path, source, signal).catch((cause: unknown) => {
        ticks = null;
        throw cause;
      });
      return ticks;
    };
    async function reelOf(width: number, height: number): Promise<FrameReel> {
      const all = await ticksOnce();
      const key = `${file.id} ${file.state} ${width}`;
      const reel =
        reels.get(key) ??
        frameReel({
          file: file.name,
          ticks: all,
          limitBytes: REEL_BYTES,
          read: (fromTick, onlyTicks) =>
            picturesFrom(
              file.path,
              facts,
              { fromTick, width, height, ...(onlyTicks ? { onlyTicks } : {}) },
              signal,
            ),
          encode: (rgb) => jpegPicture({ width, height, rgb }),
        });
      reels.delete(key);
      reels.set(key, reel);
      for (const [oldest, old] of reels) {
        if (reels.size <= REELS) break;
        reels.delete(oldest);
        void old.close();
      }
      return reel;
    }
    return {
      file,
      source,
      ticks: ticksOnce,
      benchClip: { path: file.path, facts, state },
      async frame(index, maxPx) {
        const scale = Math.min(1, maxPx / Math.max(upright.width, upright.height));
        const px = (size: number) => Math.max(1, Math.round(size * scale));
        return (await reelOf(px(upright.width), px(upright.height))).picture(index);
      },
      thumbnail() {
        thumbnail ??= inTurn(async () => {
          const frames = facts.declaredFrames ?? 0;
          const atS = (THUMBNAIL_AT * frames) / (facts.nominalRateHz ?? 30);
          return jpegPicture(await source.readStill(atS, THUMBNAIL_PX));
        }).catch((cause: unknown) => {
          thumbnail = null;
          throw cause;
        });
        return thumbnail;
      },
    };
  }

  return {
    async open(file) {
      const known = clips.get(file.id);
      if (known?.state === file.state) return known.clip;
      const clip = make(file);
      clips.set(file.id, { state: file.state, clip });
      clip.catch(() => clips.delete(file.id));
      for (const id of clips.keys()) {
        if (clips.size <= CLIPS) break;
        clips.delete(id);
      }
      return clip;
    },
    async close() {
      await Promise.all([...reels.values()].map((reel) => reel.close()));
      reels.clear();
    },
  };
}

/** Lets so many jobs run at a time; the others wait in line. */
function turns(most: number): <T>(job: () => Promise<T>) => Promise<T> {
  let running = 0;
  const line: (() => void)[] = [];
  return async (job) => {
    if (running >= most) await new Promise<void>((resolve) => line.push(resolve));
    else running++;
    try {
      return await job();
    } finally {
      // The place goes to the next in line without being free in between.
      const next = line.shift();
      if (next) next();
      else running--;
    }
  };
}
