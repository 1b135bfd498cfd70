/** Reads what `ffmpeg -i FILE` says about a file: text for people, but stable over ten years of builds. */

/** One picture stream as FFmpeg describes it. */
export interface ReportedStream {
  readonly codec: string;
  readonly pixelFormat: string;
  /** `tv`, `pc` or null where the file does not say. */
  readonly range: 'tv' | 'pc' | null;
  /** Name of the transfer characteristic, for example `bt709`; null where unknown. */
  readonly transfer: string | null;
  readonly interlaced: boolean;
  readonly widthPx: number;
  readonly heightPx: number;
  /** Rate by the container, Hz; a hint. */
  readonly rateHz: number | null;
  /** Ticks per second of the stream's time base (rounded by FFmpeg to a few digits); null where absent. */
  readonly ticksPerSecond: number | null;
  /** Counter-clockwise degrees as printed; null without a display matrix. */
  readonly rotationCcwDeg: number | null;
  /** Width to height of a stored pixel; null where the file does not say. */
  readonly pixelAspect: readonly [number, number] | null;
  /** Number of the stream in the file, from 0; an MP4's tracks are numbered alike. */
  readonly streamIndex: number;
}

/** The whole report. */
export interface FfmpegReport {
  /** Demuxer, for example `mov,mp4,m4a,3gp,3g2,mj2`; null where the file could not be opened. */
  readonly container: string | null;
  /** First picture stream that is no cover picture. */
  readonly video: ReportedStream | null;
  /** How many such streams there are. */
  readonly videoStreams: number;
  readonly hasSound: boolean;
  /** Stream 0 is sound. */
  readonly soundFirst: boolean;
  /** There is a cover picture beside the video. */
  readonly coverPicture: boolean;
  /** `com.android.capture.fps` as printed. */
  readonly captureTag: string | null;
}

const STREAM = /^\s*Stream #\d+:(\d+).*?: (Video|Audio): (.*)$/;

/** Parses the messages of `ffmpeg -hide_banner -i FILE`. */
export function parseFfmpegReport(text: string): FfmpegReport {
  const lines = text.split(/\r?\n/);
  const videos: { line: string; index: number; rotationCcwDeg: number | null }[] = [];
  let container: string | null = null;
  let hasSound = false;
  let soundFirst = false;
  let coverPicture = false;
  let captureTag: string | null = null;
  let current: { rotationCcwDeg: number | null } | null = null;
  for (const line of lines) {
    container ??= /^Input #0, (\S+), from /.exec(line)?.[1] ?? null;
    const stream = STREAM.exec(line);
    if (/^\s*Stream #/.test(line)) current = null;
    const index = Number(stream?.[1] ?? 0);
    if (stream?.[2] === 'Audio') {
      hasSound = true;
      if (index === 0) soundFirst = true;
    }
    if (stream?.[2] === 'Video' && isCover(stream[3] ?? '')) coverPicture = true;
    else if (stream?.[2] === 'Video') {
      current = { rotationCcwDeg: null };
      videos.push(Object.assign(current, { line: stream[3] ?? '', index }));
    }
    const rotation = /display\s?matrix: rotation of (-?[\d.]+) degrees/i.exec(line);
    if (rotation !== null && current !== null) current.rotationCcwDeg = Number(rotation[1]);
    captureTag ??= /^\s*com\.android\.capture\.fps\s*: (\S+)/i.exec(line)?.[1] ?? null;
  }
  const first = videos[0];
  return {
    container,
    video: first === undefined ? null : parseStream(first),
    videoStreams: videos.length,
    hasSound,
    soundFirst,
    coverPicture,
    captureTag,
  };
}

/** Newer builds mark a cover picture; in older ones it is a still picture with the idle rate of 90k and no other. */
function isCover(line: string): boolean {
  return (
    /\(attached pic\)/.test(line) || (/^(png|mjpeg|bmp)\b.*, 90k tbr,/.test(line) && !/ fps,/.test(line))
  );
}

/** `h264 (High) (avc1 / 0x31637661), yuv420p(tv, bt709), 1920x1080 [SAR 1:1 DAR 16:9], 50 kb/s, 240 fps, ...` */
function parseStream(video: {
  readonly line: string;
  readonly index: number;
  readonly rotationCcwDeg: number | null;
}): ReportedStream | null {
  const { line, rotationCcwDeg } = video;
  const size = /, (\d+)x(\d+)(?=[ ,[]|$)/.exec(line);
  if (size === null) return null;
  const before = line.slice(0, size.index);
  const codec = /^\w+/.exec(before)?.[0] ?? '';
  // The pixel format comes last before the size; its bracket holds commas of its own.
  const format = /, (\w+)(?:\(([^()]*)\))?$/.exec(before);
  const marks = (format?.[2] ?? '').split(',').map((mark) => mark.trim());
  const range = marks.find((mark) => mark === 'tv' || mark === 'pc') as 'tv' | 'pc' | undefined;
  const colours =
    marks.find((mark) => /^[\w-]+(\/[\w-]+\/[\w-]+)?$/.test(mark) && !isPlainMark(mark)) ?? null;
  const transfer = colours === null ? null : (colours.split('/')[2] ?? colours);
  const number = (unit: string): number | null => {
    const match = new RegExp(`, ([\\d.]+)(k?) ${unit}(?=[ ,]|$)`).exec(line);
    const value = match === null ? Number.NaN : Number(match[1]) * (match[2] === 'k' ? 1000 : 1);
    return Number.isFinite(value) ? value : null;
  };
  const aspect = /\bSAR (\d+):(\d+)/.exec(line);
  return {
    codec,
    pixelFormat: format?.[1] ?? 'none',
    range: range ?? null,
    transfer: transfer === 'unknown' || transfer === 'reserved' ? null : transfer,
    interlaced: marks.some((mark) => /^(top|bottom) /.test(mark)),
    widthPx: Number(size[1]),
    heightPx: Number(size[2]),
    rateHz: number('fps'),
    ticksPerSecond: number('tbn'),
    rotationCcwDeg,
    pixelAspect: aspect === null ? null : [Number(aspect[1]), Number(aspect[2])],
    streamIndex: video.index,
  };
}

function isPlainMark(mark: string): boolean {
  return mark === 'tv' || mark === 'pc' || mark === 'progressive' || mark === '' || /^\d+ bpc$/.test(mark);
}
