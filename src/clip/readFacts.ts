/** Facts of a clip file: opened with care, named by its first bytes, hashed, then FFmpeg's view and the boxes' view. */
import { basename } from 'node:path';
import { setImmediate } from 'node:timers/promises';
import { AnalysisError } from '../errors.js';
import type { CodeRange, Transfer } from '../units.js';
import { type Boxes, readBoxes, type Track } from './boxes.js';
import { hashFile, inputArguments, MAX_PIXELS, openClipFile, printable } from './clipFile.js';
import { clipRemarks } from './clipRemarks.js';
import { findFfmpeg, runFfmpeg } from './ffmpeg.js';
import { parseFfmpegReport, type ReportedStream } from './ffmpegReport.js';
import { nameFirstBytes } from './firstBytes.js';
import type { ClipFacts } from './frameSource.js';
import { isInterlaced } from './interlace.js';
import { type PacketTimes, readPacketTimes } from './packetTimes.js';
import { isReordered, orientationOf, startOffsetS } from './trackFacts.js';
import { onlyPictureTrack, rateOf, type TrackTimes, trackTimes } from './trackTimes.js';

/** A capture-rate tag outside this is a time lapse or nonsense, Hz. */
const TAG_RATE_HZ = [20, 4000] as const;

/** Decoders that a camera's clip may need; any other is attack surface. */
const CODECS = new Set([
  'h264',
  'hevc',
  'mjpeg',
  'vp8',
  'vp9',
  'av1',
  'mpeg4',
  'prores',
  'dnxhd',
  'ffv1',
  'rawvideo',
]);

/** Remarks on the file that also bear on the result. */
const WORTH_A_WARNING = new Set([
  'trimmed',
  'edited-speed',
  'edited-pieces',
  'cut-short',
  'several-streams',
  'interlaced',
]);

/** A coded first plane that is luma: planar YUV or grey. */
const LUMA_FORMAT = /^(yuvj?4\d\dp|yuva4\d\dp|gray)(?:(9|10|12|14|16)(?:le|be))?$/;

const TRANSFERS: Readonly<Record<string, Transfer>> = {
  bt709: 'bt709',
  smpte170m: 'bt709',
  bt470bg: 'bt709',
  bt470m: 'bt709',
  smpte240m: 'bt709',
  'bt2020-10': 'bt709',
  'bt2020-12': 'bt709',
  bt2020_10bit: 'bt709',
  bt2020_12bit: 'bt709',
  'iec61966-2-4': 'bt709',
  'iec61966-2-1': 'srgb',
  'arib-std-b67': 'hlg',
  smpte2084: 'pq',
  linear: 'linear',
};
/** ITU-T H.273 table 3. */
const TRANSFER_CODES: Readonly<Record<number, Transfer>> = {
  1: 'bt709',
  4: 'bt709',
  5: 'bt709',
  6: 'bt709',
  7: 'bt709',
  8: 'linear',
  11: 'bt709',
  13: 'srgb',
  14: 'bt709',
  15: 'bt709',
  16: 'pq',
  18: 'hlg',
};

/**
 * Reads the facts of a clip. Looks at headers only, but reads the whole file once for its SHA-256.
 * @param sha256 what stands for it meanwhile, where somebody else works it out.
 * @throws AnalysisError `clip-unreadable` (absent, no file, empty, cut off), `not-a-clip` (something else than a
 * video), `decoder-missing`, `decoder-failed`.
 */
export async function readFacts(path: string, signal?: AbortSignal, sha256?: string): Promise<ClipFacts> {
  const name = printable(basename(path));
  const build = await findFfmpeg();
  const file = await openClipFile(path, name);
  try {
    const { size } = await file.stat();
    const head = Buffer.alloc(64);
    const { bytesRead } = await file.read(head, 0, 64, 0);
    const first = nameFirstBytes(head.subarray(0, bytesRead));
    if (first.kind === 'other') throw new AnalysisError('not-a-clip', `${name} is ${first.what}.`);
    const boxes = first.kind === 'mp4' ? await readBoxes(file, size, name) : null;
    const asking = Promise.all([
      sha256 ?? hashFile(file, signal),
      runFfmpeg({ args: inputArguments(path), onOutput: [], signal }),
      isInterlaced(path, signal),
    ]);
    // A failure is heard of below.
    asking.catch(() => undefined);
    // Once FFmpeg is on its way there is time for the frames' times, which take as long as its answer.
    await setImmediate();
    const likely = onlyPictureTrack(boxes);
    const likelyTimes = likely && trackTimes(boxes, likely);
    const [checksum, end, interlaced] = await asking;
    const report = parseFfmpegReport(end.messages);
    const stated = usableStream(name, report, end.messages);
    const stream = { ...stated, interlaced: stated.interlaced || interlaced };
    const track = trackOf(boxes, stream);
    const listed = track !== null && !boxes?.fragmented;
    const packets = listed ? null : await readPacketTimes(path, signal);
    const times = likelyTimes && track === likely ? likelyTimes : trackTimes(boxes, track);
    return {
      ...combine(name, stream, boxes, track, report, times, packets),
      bytes: size,
      sha256: checksum,
      decoder: build.versionLine,
    };
  } finally {
    await file.close();
  }
}

/** The boxes of the stream that FFmpeg reads; the two count alike, a picture track comes next best. */
function trackOf(boxes: Boxes | null, stream: ReportedStream): Track | null {
  const numbered = boxes?.tracks[stream.streamIndex];
  if (numbered?.handler === 'vide') return numbered;
  return boxes?.tracks.find((candidate) => candidate.handler === 'vide') ?? null;
}

function usableStream(
  name: string,
  report: ReturnType<typeof parseFfmpegReport>,
  messages: string,
): ReportedStream {
  const { video } = report;
  const tail = messages.split('\n').slice(-6).join('\n').slice(-800);
  if (report.container === null) {
    const why = /Invalid data|moov atom/.test(messages)
      ? 'its content is damaged or no video'
      : 'FFmpeg refuses it';
    throw new AnalysisError(
      'clip-unreadable',
      `${name} cannot be read: ${why}; copy it again from the camera.`,
      { tail },
    );
  }
  if (report.videoStreams === 0) {
    const what = report.hasSound ? 'holds sound but no picture' : 'holds no picture';
    throw new AnalysisError('not-a-clip', `${name} ${what}; give the camera's video file.`, { tail });
  }
  if (video === null || video.pixelFormat === 'none') {
    throw new AnalysisError(
      'clip-unreadable',
      `${name} is damaged: its picture format cannot be read; copy it again from the camera.`,
      { tail },
    );
  }
  if (!CODECS.has(video.codec)) {
    throw new AnalysisError(
      'not-a-clip',
      `${name} is coded as ${video.codec}, which is no camera's video; give the camera's own file.`,
      { tail },
    );
  }
  if (video.widthPx * video.heightPx > MAX_PIXELS) {
    throw new AnalysisError(
      'clip-unreadable',
      `${name} has pictures of ${video.widthPx} x ${video.heightPx} px, more than lagreel reads (${(MAX_PIXELS / 1e6).toFixed(1)} megapixels); film with a smaller picture.`,
    );
  }
  if (!LUMA_FORMAT.test(video.pixelFormat)) {
    throw new AnalysisError(
      'not-a-clip',
      `${name} has the pixel format ${video.pixelFormat}, which stores no brightness plane; give the camera's own file.`,
    );
  }
  return video;
}

/** Joins FFmpeg's view (bitstream) with the boxes' (container). */
function combine(
  name: string,
  stream: ReportedStream,
  boxes: Boxes | null,
  track: Track | null,
  report: ReturnType<typeof parseFfmpegReport>,
  { edits, rateHz }: TrackTimes,
  packets: PacketTimes | null,
): Omit<ClipFacts, 'bytes' | 'sha256' | 'decoder'> {
  const warnings: string[] = [];
  const ticksPerSecond = track?.timescale || stream.ticksPerSecond;
  if (ticksPerSecond === null || ticksPerSecond < 100 || ticksPerSecond > 2 ** 31) {
    throw new AnalysisError(
      'clip-unreadable',
      `${name} has no usable clock in its header (timescale ${ticksPerSecond ?? 'absent'}); copy it again from the camera.`,
    );
  }
  const declared = boxes?.fragmented || track === null ? null : edits.shownFrames;
  if ((track !== null && !boxes?.fragmented && track.sampleCount < 2) || declared === 1) {
    throw new AnalysisError(
      'not-a-clip',
      `${name} is a still picture in a video file (one frame); give a clip with many frames.`,
    );
  }
  const rangeFromBox = track?.colour?.fullRange ?? null;
  const range: CodeRange | null =
    stream.range !== null
      ? stream.range === 'pc'
        ? 'full'
        : 'limited'
      : stream.pixelFormat.startsWith('yuvj')
        ? 'full'
        : rangeFromBox === null
          ? null
          : rangeFromBox
            ? 'full'
            : 'limited';
  const transfer =
    stream.transfer !== null ? TRANSFERS[stream.transfer] : TRANSFER_CODES[track?.colour?.transfer ?? -1];
  if (stream.transfer !== null && transfer === undefined) {
    warnings.push(`The transfer curve ${stream.transfer} is not known to lagreel; BT.709 is taken.`);
  }
  // Of a track that states no clock of its own FFmpeg knows the clock.
  const shownRateHz = packets
    ? rateOf(packets.ticks.slice().sort(), packets.ticksPerSecond)
    : (rateHz ?? rateOf(edits.shownTicks, ticksPerSecond));
  const tag = captureTag(boxes?.captureTagHz ?? null, report.captureTag, warnings);
  const facts: Omit<ClipFacts, 'bytes' | 'sha256' | 'decoder'> = {
    file: name,
    container: report.container ?? '',
    codec: stream.codec,
    codedWidth: stream.widthPx,
    codedHeight: stream.heightPx,
    orientation: orientationOf(track, stream, warnings),
    pixelFormat: stream.pixelFormat,
    bitDepth: Number(LUMA_FORMAT.exec(stream.pixelFormat)?.[2] ?? 8),
    range: range ?? 'limited',
    rangeTagged: range !== null,
    transfer: transfer ?? 'bt709',
    transferTagged: transfer !== undefined,
    timeBase: [1, ticksPerSecond],
    declaredFrames: declared,
    nominalRateHz: shownRateHz ?? stream.rateHz,
    captureRateTagHz: tag,
    editList: edits.kind,
    layout: {
      reordered: isReordered(packets?.ticks ?? track?.presentationTicks ?? []),
      fragmented: boxes?.fragmented ?? false,
      hiddenFrames: edits.hiddenFrames,
      startOffsetS: startOffsetS(track, boxes?.movieTimescale ?? 0),
      pixelAspect: stream.pixelAspect,
      interlaced: stream.interlaced,
      pictureStreams: report.videoStreams,
      coverPicture: report.coverPicture,
      soundFirst: report.soundFirst,
      trailingBytes: boxes?.trailingBytes ?? 0,
      framesPresent: track === null || boxes?.fragmented ? null : [track.samplesPresent, track.sampleCount],
    },
    warnings,
  };
  const remarks = clipRemarks(facts);
  return {
    ...facts,
    warnings: [
      ...remarks.filter(({ code }) => WORTH_A_WARNING.has(code)).map(({ text }) => text),
      ...warnings,
    ],
  };
}

/** The tag where it is a sane rate; what is not is said, not used. */
function captureTag(fromBoxes: number | null, fromReport: string | null, warnings: string[]): number | null {
  const value =
    fromBoxes ??
    (fromReport !== null && /^\d{1,5}(\.\d{1,9})?$/.test(fromReport) ? Number(fromReport) : null);
  if (value === null) return null;
  if (value >= TAG_RATE_HZ[0] && value <= TAG_RATE_HZ[1]) return value;
  warnings.push(
    `The capture-rate tag of the file says ${value}, which is no rate of slow motion; it is not used.`,
  );
  return null;
}
