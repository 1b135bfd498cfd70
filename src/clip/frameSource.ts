/**
 * What a clip is, and the contract of everything that yields frames: a file through FFmpeg, or a simulated scene.
 * Pixels are those of the coded picture (before the container's rotation); the rooms above turn rectangles.
 */
import type { CodeRange, TimeBase, Transfer } from '../units.js';

/** How the coded picture must be turned to stand upright: mirrored first (left-right), then turned clockwise. */
export interface Orientation {
  readonly rotationDeg: 0 | 90 | 180 | 270;
  readonly mirrored: boolean;
}

/** How a clip's file is put together: what a player deals with in silence and a measurement must know. */
export interface ClipLayout {
  /** Pictures are stored in another order than they are shown (B-frames). */
  readonly reordered: boolean;
  /** The index comes in pieces between the pictures. */
  readonly fragmented: boolean;
  /** Frames that an edit list or a trim hides. */
  readonly hiddenFrames: number;
  /** The picture starts this long after the file's own start (an empty edit), s. */
  readonly startOffsetS: number;
  /** Width to height of a stored pixel; null where the file does not say (square). */
  readonly pixelAspect: readonly [number, number] | null;
  readonly interlaced: boolean;
  /** Picture streams that are no cover picture. */
  readonly pictureStreams: number;
  readonly coverPicture: boolean;
  /** Sound is stored as the first stream. */
  readonly soundFirst: boolean;
  /** Bytes after the last box that belongs to the movie. */
  readonly trailingBytes: number;
  /** Frames of the index that lie in the file; null where the index does not list them. */
  readonly framesPresent: readonly [present: number, declared: number] | null;
}

/** Facts of one clip, read from the container and the bitstream's headers; no pixel has been looked at yet. */
export interface ClipFacts {
  /** Base name, never a path. */
  readonly file: string;
  readonly bytes: number;
  /** Lower-case hex. */
  readonly sha256: string;
  /** The demuxer's name, for example `mov,mp4,m4a,3gp,3g2,mj2`, or `simulated`. */
  readonly container: string;
  /** FFmpeg's codec name, for example `h264`. */
  readonly codec: string;
  /** Coded picture, px, before rotation. */
  readonly codedWidth: number;
  readonly codedHeight: number;
  readonly orientation: Orientation;
  readonly pixelFormat: string;
  readonly bitDepth: number;
  readonly range: CodeRange;
  /** False where the file does not say and the default (limited) was taken. */
  readonly rangeTagged: boolean;
  readonly transfer: Transfer;
  /** False where the file does not say and the default (BT.709) was taken. */
  readonly transferTagged: boolean;
  readonly timeBase: TimeBase;
  /** Frames by the container's own tables, not counting hidden pre-roll; null where it does not say. */
  readonly declaredFrames: number | null;
  /**
   * Rate of the media timestamps, Hz: from the packets' own times with gaps taken out, where the file lists them (of
   * its fastest part, where the rate changes); else as FFmpeg states it. A hint only.
   */
  readonly nominalRateHz: number | null;
  /** `com.android.capture.fps` where present and sane (20..4000), Hz. */
  readonly captureRateTagHz: number | null;
  /** True where an edit list plays part of the clip at another speed, in pieces, or hides its start. */
  readonly editList: 'none' | 'trim' | 'speed' | 'pieces';
  /** How the file is put together; absent for simulated clips. */
  readonly layout?: ClipLayout;
  /** Version line of the FFmpeg in use, or `simulated`. */
  readonly decoder: string;
  /** Sentences on what is odd in the file, each complete in itself. */
  readonly warnings: readonly string[];
}

/** A rectangle in whole pixels, half-open: covers x .. x+width-1. */
export interface PixelRect {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** A rectangle to read. */
export interface ReadRect extends PixelRect {
  /** Of its rows only `y`, `y + rowStep`, ... are wanted; left out: all. */
  readonly rowStep?: RowStep;
}

/** A power of two, so that rows can be left out by halves. */
export type RowStep = 1 | 2 | 4 | 8;

/** Coded luma of one rectangle, row by row without padding; `Uint16Array` where the clip has more than 8 bit. */
export type LumaPlane = Uint8Array | Uint16Array;

/**
 * Called once a frame, in presentation order; planes are reused after the call. Return false to stop early. Where a frame
 * turns out to be damaged the clip is read anew, from index 0: what was given before is void.
 */
// biome-ignore lint/suspicious/noConfusingVoidType: a callback without a return means "go on"
export type OnFrame = (index: number, planes: readonly LumaPlane[]) => boolean | void;

/** What every reading shares. */
export interface ReadOptions {
  readonly signal?: AbortSignal;
  /** Called with the number of frames done, at most about ten times a second. */
  readonly onProgress?: (framesDone: number) => void;
}

/** The presentation timestamps of the frames that were delivered, integer ticks of the clip's time base. */
export interface FrameTimes {
  /** One entry a frame, in the order of delivery. */
  readonly ptsTicks: Float64Array;
  readonly timeBase: TimeBase;
  /** True where reading was ended by the callback before the clip's end. */
  readonly stoppedEarly: boolean;
  /** Frames that the decoder reported damaged or could not deliver. */
  readonly damagedFrames: number;
}

/** A still picture, upright, 8-bit RGB, row by row; for people to look at, never for measuring. */
export interface StillPicture {
  readonly width: number;
  readonly height: number;
  readonly rgb: Uint8Array;
}

/** Everything that yields frames. One pass a call; calls may be repeated and give the same frames. */
export interface FrameSource {
  readonly facts: ClipFacts;
  /**
   * Of a file that is taken for a clip met before, until its checksum is worked out: rejects with `AnotherClip` where it
   * is not that clip. Nothing is read before, and nothing may be written before. Left out: the checksum is its own.
   */
  readonly confirmed?: () => Promise<void>;
  /** Whether rows that are not wanted are left out; a source without this gives all rows of a rectangle. */
  readonly skipsRows?: boolean;
  /**
   * One pass over the clip: coded luma of each rectangle (coded pixels), exactly as stored: no scaling, no colour
   * conversion, no frame inserted or dropped. Rejects with the signal's reason when aborted, leaving no process.
   */
  readRects(rects: readonly ReadRect[], onFrame: OnFrame, options?: ReadOptions): Promise<FrameTimes>;
  /**
   * One pass over a shrunken picture (block averages of luma, at most `maxWidth` wide in coded orientation), for
   * finding regions only. The callback gets one plane of `width * height`.
   */
  readOverview(
    maxWidth: number,
    onFrame: (index: number, plane: LumaPlane, width: number, height: number) => boolean | undefined,
    options?: ReadOptions,
  ): Promise<FrameTimes>;
  /** The picture at a media time (seconds from the first frame), shrunk to `maxWidth` (upright), for people. */
  readStill(mediaS: number, maxWidth: number): Promise<StillPicture>;
}

/** Size of the picture after the container's rotation, px. */
export function uprightSize(facts: Pick<ClipFacts, 'codedWidth' | 'codedHeight' | 'orientation'>): {
  width: number;
  height: number;
} {
  const turned = facts.orientation.rotationDeg === 90 || facts.orientation.rotationDeg === 270;
  return turned
    ? { width: facts.codedHeight, height: facts.codedWidth }
    : { width: facts.codedWidth, height: facts.codedHeight };
}
