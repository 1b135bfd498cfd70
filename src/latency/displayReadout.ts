/** The camera's row readout from a display that draws line by line: how its scan should run against how it is seen. */
import { videoMode, videoTiming } from '../numeric/videoTiming.js';
import type { Scanout } from './scanout.js';

/** Where the display's picture lies in the clip, and what signal it draws. */
export interface DisplayScan {
  /** Upright pixel rows at which the display's first line begins and its last one ends. */
  readonly topPx: number;
  readonly bottomPx: number;
  /** Name of a mode of a video standard, `videoTiming.ts`; left out: not known. */
  readonly mode?: string;
}

/** What the clip shows of the scan, and how its latencies were worked out. */
export interface SeenScan {
  /** From latencies corrected with `usedFraction`; its uncertainty without that of the readout. Null: not seen. */
  readonly scanout: Scanout | null;
  /** From the topmost region's middle to the lowest one's, px. */
  readonly spanPx: number;
  /** Refresh period of the display, ms; null where it is not known. */
  readonly refreshMs: number | null;
  /** Capture period, ms. */
  readonly periodMs: number;
  readonly usedFraction: number;
  readonly orientation: { readonly rotationDeg: 0 | 90 | 180 | 270 };
  /** Upright height of the clip's picture, px. */
  readonly pictureHeightPx: number;
}

/** The readout, or one sentence on why the display does not tell it. */
export type DisplayReadout =
  | { readonly fraction: number; readonly sd: number; readonly note: string }
  | { readonly fraction: null; readonly note: string };

/** Share of a refresh in which lines are drawn: 1080 of 1125, 720 of 750 and 2160 of 2250 lines (CTA-861). */
const USUAL_ACTIVE = 0.96;
/** Without a named signal: 480 of 525 lines lies three of these below (relative, standard; judgement). */
const USUAL_ACTIVE_REL = 0.015;
/** A panel's own scan beside that of its signal (relative, standard; judgement). */
const OWN_SCAN_REL = 0.01;
/** Where a person sees the first or the last line, px (standard; judgement). */
const ROW_SD_PX = 1;
/**
 * What the onsets of two regions may be off against each other in all presses alike, capture periods (standard): where the
 * refresh keeps pace with the frames each region's changes meet one phase of the shutter (11 coded clips: 0.04).
 */
const PAIR_SD_T = 0.03;
/** What is known no better than this is no better than not known. */
const MOST_SD = 0.2;

/**
 * Readout fraction from the display's scan. Between two heights the camera sees the scan's slope less its own readout's:
 * with the display's slope from the video standard, the readout is what is left (method 4). That rests on the display
 * drawing at its signal's pace: one that draws much faster gives a readout that cannot be, one a little faster is not noticed.
 */
export function displayReadout(scan: DisplayScan, seen: SeenScan): DisplayReadout {
  const { scanout, spanPx, refreshMs, periodMs, usedFraction, orientation, pictureHeightPx } = seen;
  const { rotationDeg } = orientation;
  const refuse = (why: string): DisplayReadout => ({
    fraction: null,
    note: `The row readout could not be told from the display's scan: ${why}.`,
  });
  if (rotationDeg === 90 || rotationDeg === 270) {
    return refuse(
      'the clip is turned, so that the sensor reads across the display’s lines and not along them',
    );
  }
  if (scanout === null) {
    return refuse('it takes two screen regions at different heights that answer three presses or more');
  }
  if (refreshMs === null) return refuse('the refresh rate is not known; state it with --refresh');
  const mode = scan.mode === undefined ? null : videoMode(scan.mode);
  const activeFraction = mode ? videoTiming(mode).activeFraction : USUAL_ACTIVE;
  const heightPx = scan.bottomPx - scan.topPx;
  const drawnMsPerPx = (refreshMs * activeFraction) / heightPx;
  const drawnRel = Math.hypot(mode ? 0 : USUAL_ACTIVE_REL, OWN_SCAN_REL, (Math.SQRT2 * ROW_SD_PX) / heightPx);
  // Turned upside down, the sensor reads against the display's scan.
  const sense = rotationDeg === 180 ? -1 : 1;
  const perSlope = pictureHeightPx / periodMs;
  const raw = usedFraction + sense * (drawnMsPerPx - scanout.msPerPx) * perSlope;
  const sd =
    perSlope *
    Math.hypot(scanout.msPerPxUncertainty, drawnRel * drawnMsPerPx, (PAIR_SD_T * periodMs) / spanPx);
  if (raw + 2 * sd < 0 || raw - 2 * sd > 1) {
    return refuse(
      `its top answers ${(scanout.msPerPx * heightPx).toFixed(1)} ms before its bottom as seen by the camera, where its signal takes ${(drawnMsPerPx * heightPx).toFixed(1)} ms to draw; it draws at a pace of its own, or its rows are not where they were stated`,
    );
  }
  if (sd > MOST_SD) {
    return refuse(
      `it would be known to ${(2 * sd).toFixed(2)} camera frames only; take regions further apart, or more presses`,
    );
  }
  const fraction = Math.min(1, Math.max(0, raw));
  return {
    fraction,
    sd,
    note: `The row readout of ${fraction.toFixed(2)} camera frames (standard uncertainty ${sd.toFixed(2)}) is taken from the display's scan, assuming that it draws at the pace of ${mode ? `its ${mode.name} signal` : 'a signal with 4 % blanking'}; a display that draws faster than its signal makes it wrong.`,
  };
}
