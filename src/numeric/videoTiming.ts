/** Line-count arithmetic of video standards: how long a display takes to draw from top to bottom. */
import { expected } from '../errors.js';

/** One mode of a standard. */
export interface VideoMode {
  /** For example `1080p60`. */
  readonly name: string;
  /** Lines of picture in one scan. */
  readonly activeLines: number;
  /** Lines of one scan, blanking included (a half line more in interlaced fields). */
  readonly totalLines: number;
  /** Scans (frames, or fields of interlaced modes) per second. */
  readonly fieldRateHz: number;
  /** Where the numbers are from. */
  readonly source: string;
}

/** Duration of the parts of one scan, ms and us. */
export interface VideoTiming {
  readonly frameMs: number;
  readonly lineUs: number;
  /** First active line to the end of the last. */
  readonly activeMs: number;
  readonly blankingMs: number;
  /** activeMs / frameMs: the share of a refresh in which the picture is drawn. */
  readonly activeFraction: number;
}

const CTA = 'CTA-861 / VESA DMT, as in linux/v4l2-dv-timings.h';
const BT470 = 'ITU-R BT.470 / SMPTE ST 170 line rates';
const LOW = 'progressive scan at the line rate of BT.470, without the half line';
/** Line rates of the two analogue systems, Hz. */
const LINE_RATE_525_HZ = 4.5e6 / 286;
const LINE_RATE_625_HZ = 15625;

const pixelMode = (
  name: string,
  activeLines: number,
  totalPixels: number,
  totalLines: number,
  pixelClockHz: number,
): VideoMode => ({
  name,
  activeLines,
  totalLines,
  fieldRateHz: pixelClockHz / (totalPixels * totalLines),
  source: CTA,
});

const lineMode = (
  name: string,
  activeLines: number,
  totalLines: number,
  lineRateHz: number,
  source: string,
): VideoMode => ({ name, activeLines, totalLines, fieldRateHz: lineRateHz / totalLines, source });

/** Standard modes. Fields of interlaced modes are scans of half the lines. */
export const VIDEO_MODES: readonly VideoMode[] = [
  pixelMode('2160p60', 2160, 4400, 2250, 594e6),
  pixelMode('1080p60', 1080, 2200, 1125, 148.5e6),
  pixelMode('1080p50', 1080, 2640, 1125, 148.5e6),
  pixelMode('1080i60', 540, 2200, 562.5, 74.25e6),
  pixelMode('720p60', 720, 1650, 750, 74.25e6),
  pixelMode('720p50', 720, 1980, 750, 74.25e6),
  pixelMode('480p60', 480, 858, 525, 27e6),
  pixelMode('576p50', 576, 864, 625, 27e6),
  pixelMode('640x480p60', 480, 800, 525, 25.175e6),
  lineMode('480i60', 240, 262.5, LINE_RATE_525_HZ, BT470),
  lineMode('576i50', 288, 312.5, LINE_RATE_625_HZ, BT470),
  lineMode('240p60', 240, 262, LINE_RATE_525_HZ, LOW),
  lineMode('240p60-263', 240, 263, LINE_RATE_525_HZ, LOW),
  lineMode('288p50', 288, 312, LINE_RATE_625_HZ, LOW),
  lineMode('288p50-313', 288, 313, LINE_RATE_625_HZ, LOW),
];

/** All names, for sentences that ask for one. */
export const VIDEO_MODE_NAMES = VIDEO_MODES.map((mode) => mode.name).join(', ');

/** The mode of a name, or null. */
export function videoMode(name: string): VideoMode | null {
  return VIDEO_MODES.find((mode) => mode.name === name) ?? null;
}

/** Durations of one scan of a mode. */
export function videoTiming(mode: VideoMode): VideoTiming {
  const { activeLines, totalLines, fieldRateHz } = mode;
  if (!(activeLines > 0 && totalLines >= activeLines)) {
    throw expected('activeLines', `from 1 to totalLines (${totalLines})`, activeLines);
  }
  if (!(fieldRateHz > 0)) throw expected('fieldRateHz', 'a positive number', fieldRateHz);
  const frameMs = 1000 / fieldRateHz;
  const activeFraction = activeLines / totalLines;
  return {
    frameMs,
    lineUs: (1000 * frameMs) / totalLines,
    activeMs: frameMs * activeFraction,
    blankingMs: frameMs * (1 - activeFraction),
    activeFraction,
  };
}

/**
 * Delay from the start of the first active line to a height of the picture, ms. Holds for tubes and for panels that
 * scan as the signal comes; a panel with a frame buffer may scan faster.
 * @param height01 0 top .. 1 bottom
 */
export function scanoutDelayMs(mode: VideoMode, height01: number): number {
  if (!(height01 >= 0 && height01 <= 1)) throw expected('height01', 'from 0 to 1', height01);
  return videoTiming(mode).activeMs * height01;
}
