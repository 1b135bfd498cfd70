/** The container cases of real phones, each made on the spot: how the file is made, and what lagreel must say. */
import { appendFileSync, readFileSync, truncateSync, writeFileSync } from 'node:fs';
import { runFfmpeg } from '../../src/clip/ffmpeg.js';
import type { PixelRect } from '../../src/clip/frameSource.js';
import { type Patch, patchClip } from '../clip/boxPatch.js';
import {
  blended,
  captures,
  encodePictures,
  evenTimes,
  H264,
  HEIGHT_PX,
  pressTimes,
  repeated,
  sometimesRepeated,
  WIDTH_PX,
} from './containersScene.js';

/** One case. */
export interface ContainerCase {
  readonly name: string;
  /** Ending of the file's name; default `mp4`. */
  readonly ending?: string;
  readonly make: (path: string, base: string) => Promise<void> | void;
  /** Rate that the user states, Hz. */
  readonly statedHz?: number;
  /** True rate of the captures, Hz; null where lagreel must ask for it. */
  readonly rateHz: number | null;
  /** Code of the case's own remark, and the words that it must hold. */
  readonly remark: readonly [code: string, words: RegExp];
  /** Words among the warnings and the reasons of fitness. */
  readonly warns?: RegExp;
  /** Coded to upright rectangle. */
  readonly upright?: (rect: PixelRect) => PixelRect;
  /** Presses that must be measured; default all eight of the base clip. */
  readonly presses?: number;
  /** Why a press is left out. */
  readonly excludes?: RegExp;
  /** The times are too rough for a close look: allowed error of the median, ms. */
  readonly withinMs?: number;
}

/** Frames of the base clip: two seconds at 240 fps. */
export const FRAMES = 480;
export const PRESSES = pressTimes(2);
const all = Array.from({ length: FRAMES }, (_, i) => i);

/** Ticks of 1/90000 s of an even rate. */
const ticksAt = (rateHz: number, perSecond = 90_000) => all.map((i) => Math.round((i * perSecond) / rateHz));

export async function ffmpeg(...args: string[]): Promise<void> {
  const { exitCode, messages } = await runFfmpeg({ args: ['-y', ...args], onOutput: [] });
  if (exitCode !== 0) throw new Error(`ffmpeg ${args.join(' ')}\n${messages}`);
}

const patched =
  (patch: Patch): ContainerCase['make'] =>
  (path, base) =>
    patchClip(base, path, patch);

/** Remuxes the base clip: its pictures and times stay. */
const remuxed =
  (...args: string[]): ContainerCase['make'] =>
  (path, base) =>
    ffmpeg('-i', base, '-c', 'copy', ...args, path);

/** The usual scene, filmed anew. */
const filmed =
  (
    options: readonly string[],
    film: { rateHz?: number; count?: number; bits?: 8 | 10; full?: boolean; curve?: 'bt709' | 'hlg' } = {},
  ): ContainerCase['make'] =>
  (path) => {
    const { rateHz = 240, count = FRAMES, ...rest } = film;
    const shown = captures({
      capturedAtS: evenTimes(rateHz, count),
      periodS: 1 / rateHz,
      presses: pressTimes(count / rateHz),
      ...rest,
    });
    return encodePictures(path, rateHz, shown, options);
  };

const WITH_B = ['-c:v', 'libx264', '-preset', 'veryfast', '-crf', '18', '-bf', '3', '-pix_fmt', 'yuv420p'];
const X265 = ['-c:v', 'libx265', '-preset', 'ultrafast', '-x265-params'];
const BT709 = ['-color_primaries', 'bt709', '-color_trc', 'bt709', '-colorspace', 'bt709'];
/** The recording pauses just after a press, before its answer. */
const PAUSE_AT = Math.ceil((PRESSES[4]! + 0.025) * 240);
const STRETCH = { ticks: ticksAt(30), captureTag: 240 } as const;

/** Retimed and real-time clips, and clips that do not say. */
export const RATE_CASES: readonly ContainerCase[] = [
  {
    name: 'slow motion with the float tag',
    make: patched(STRETCH),
    rateHz: 240,
    remark: ['retimed', /plays 8 times slower than life .*240 fps filmed, by the file's capture-rate tag/],
  },
  {
    name: 'slow motion with the tag as text',
    make: patched({ ticks: ticksAt(30), captureTag: '240.000000' }),
    rateHz: 240,
    remark: ['retimed', /plays 8 times slower/],
  },
  {
    name: 'slow motion with merged times and a sensor that runs slow',
    make: patched({ ticks: all.map((i) => Math.round(i * 3009.027)), captureTag: 240, isoMeta: true }),
    rateHz: 239.28,
    remark: ['retimed', /plays 8 times slower/],
  },
  {
    name: 'slow motion at twice the rate of the player, stored at 60',
    make: patched({ ticks: ticksAt(60), captureTag: 240 }),
    rateHz: 240,
    remark: ['retimed', /plays 4 times slower/],
  },
  ...[120, 240, 480, 960].map(
    (rateHz): ContainerCase => ({
      name: `real time ${rateHz} with the tag`,
      make: async (path, base) => {
        const raw = path.replace('.mp4', '-untagged.mp4');
        const count = Math.min(rateHz * 2, 960);
        if (rateHz === 240) patchClip(base, path, { captureTag: 240 });
        else {
          await filmed(H264, { rateHz, count })(raw, base);
          patchClip(raw, path, { captureTag: rateHz });
        }
      },
      rateHz,
      remark: ['real-time', new RegExp(`in real time at ${rateHz} fps \\(by the file's capture-rate tag\\)`)],
      presses: pressTimes(Math.min(2, 960 / rateHz)).length,
      withinMs: rateHz === 120 ? 3 : 1.2,
    }),
  ),
  {
    name: 'real time 240 without a tag',
    make: patched({}),
    rateHz: 240,
    remark: ['real-time', /in real time at 240 fps \(by the timestamps alone\)/],
    warns: /no phone stores slow motion above 60 fps/,
  },
  {
    name: 'plain 30 without a tag',
    make: patched({ ticks: ticksAt(30) }),
    rateHz: null,
    remark: ['rate-unknown', /runs at 30 fps and does not say how fast .*--capture-rate/],
  },
  {
    name: 'plain 30 with the rate stated',
    make: patched({ ticks: ticksAt(30) }),
    statedHz: 240,
    rateHz: 240,
    remark: ['retimed', /plays 8 times slower .* as stated/],
  },
  {
    name: 'tag lost in a messenger (copied by a program that drops it)',
    make: async (path, base) => {
      const tagged = path.replace('.mp4', '-tagged.mp4');
      patchClip(base, tagged, STRETCH);
      await ffmpeg('-i', tagged, '-c', 'copy', '-map_metadata', '-1', path);
    },
    rateHz: null,
    remark: ['rate-unknown', /--capture-rate/],
  },
  {
    name: 'tag between real time and a stretch',
    make: patched({ ticks: ticksAt(200), captureTag: 240 }),
    rateHz: null,
    remark: ['rate-unknown', /tag \(240 fps\) contradicts its timestamps \(200 fps\).*--capture-rate/],
  },
  {
    name: 'tag of twice the rate of fast timestamps',
    make: patched({ ticks: ticksAt(120), captureTag: 240 }),
    rateHz: null,
    remark: ['rate-unknown', /tag \(240 fps\) contradicts its timestamps \(120 fps\).*--capture-rate/],
  },
  {
    name: 'stretched clip of which every second frame was thrown away',
    make: patched({ ticks: ticksAt(15), captureTag: 240 }),
    rateHz: null,
    remark: ['rate-unknown', /tag \(240 fps\) contradicts its timestamps \(15 fps\).*--capture-rate/],
  },
  {
    name: 'tag that is nonsense',
    make: patched({ ticks: ticksAt(30), captureTag: 7 }),
    rateHz: null,
    remark: ['rate-unknown', /--capture-rate/],
    warns: /tag of the file says 7, .*not used/,
  },
  {
    name: 'burst of 960 that a steady 30 hides',
    make: patched({ ticks: ticksAt(30), captureTag: 960 }),
    statedHz: 240,
    rateHz: 240,
    remark: ['retimed', /plays 8 times slower .* as stated/],
    warns: /stated capture rate \(240 fps\) differs from the file's tag \(960 fps\)/,
  },
];

const DROPPED = new Set([...[40, 41, 200, 333], ...evenTimes(1, 20, 400).map((i) => i + (i % 3))]);
/** A fifth of a second at 30 fps, the fast part, and again. */
const SLOW_BEFORE = evenTimes(30, 15);
const FAST = evenTimes(240, 360, 0.5);
const SLOW_AFTER = evenTimes(30, 15, 2);
const BURST = [...SLOW_BEFORE, ...FAST, ...SLOW_AFTER];

/** Everything that happens to single frames and their times. */
export const FRAME_CASES: readonly ContainerCase[] = [
  {
    name: 'short fast burst inside a slow clip',
    make: async (path) => {
      const raw = path.replace('.mp4', '-even.mp4');
      const film = { capturedAtS: BURST, periodS: 1 / 240, presses: [0.2, ...pressTimes(2, 0.6)] };
      await encodePictures(raw, 240, captures(film));
      patchClip(raw, path, { ticks: BURST.map((atS) => Math.round(atS * 90_000)) });
    },
    rateHz: 240,
    remark: ['fast-part', /changes its rate: 3\d\d frames form its fast part, and only those are measured/],
    warns: /slower frames are left aside/,
    presses: pressTimes(2, 0.6).length,
  },
  {
    name: 'dropped frames',
    make: async (path) => {
      const raw = path.replace('.mp4', '-even.mp4');
      const kept = all.filter((i) => !DROPPED.has(i));
      const film = { capturedAtS: kept.map((i) => i / 240), periodS: 1 / 240, presses: PRESSES };
      await encodePictures(raw, 240, captures(film));
      patchClip(raw, path, { ticks: kept.map((i) => i * 375) });
    },
    rateHz: 240,
    remark: ['missing-frames', new RegExp(`^${DROPPED.size} camera frames are missing in \\d+ gaps`)],
    warns: /camera frames are missing/,
  },
  {
    name: 'variable timestamps',
    make: (path) => uneven(path),
    rateHz: 240,
    remark: ['uneven-times', /timed unevenly \(\d+ % of a period RMS\); each frame's own time is used/],
    withinMs: 2,
  },
  {
    name: 'coarse clock of 1/600 s',
    make: patched({ timescale: 600, ticks: ticksAt(240, 600) }),
    rateHz: 240,
    remark: ['rounded-times', /rounds its times to 1\.67 ms; they fit an even grid/],
  },
  {
    name: 'pause in the recording',
    make: patched({ ticks: all.map((i) => i * 375 + (i >= PAUSE_AT ? 30_000 : 0)) }),
    rateHz: 240,
    remark: [
      'pause',
      new RegExp(`pauses 1 times \\(before frame ${PAUSE_AT}\\); nothing can be timed across a pause`),
    ],
    warns: /nothing can be timed across/,
    excludes: /the recording pauses before a response could be seen/,
    presses: 7,
  },
  {
    name: 'jump of six hours',
    make: patched({ ticks: all.map((i) => i * 375 + (i >= PAUSE_AT ? 1_900_000_000 : 0)) }),
    rateHz: 240,
    remark: ['pause', /pauses 1 times/],
    excludes: /the recording pauses before/,
    presses: 7,
  },
  {
    name: 'every picture twice, tagged',
    make: async (path) => {
      const raw = path.replace('.mp4', '-untagged.mp4');
      await encodePictures(raw, 240, repeated(slowFilm(), 2));
      patchClip(raw, path, { captureTag: 240 });
    },
    rateHz: 120,
    remark: ['doubled', /in the file 2 times; copies are left out, so the true rate is 120 fps/],
    warns: /copies are left out/,
    withinMs: 3,
  },
  {
    name: 'every picture twice, no tag, 60 fps: an editor made it',
    make: async (path) => {
      const raw = path.replace('.mp4', '-fast.mp4');
      await encodePictures(raw, 240, repeated(slowFilm(), 2));
      patchClip(raw, path, { ticks: ticksAt(60) });
    },
    rateHz: null,
    remark: ['rate-unknown', /only every second picture is a capture of its own .*--capture-rate/],
  },
  {
    name: 'every second picture blended, tagged',
    make: async (path) => {
      const raw = path.replace('.mp4', '-untagged.mp4');
      await encodePictures(raw, 240, blended(slowFilm()));
      patchClip(raw, path, { captureTag: 240 });
    },
    rateHz: 120,
    remark: ['interpolated', /pictures are blended from their neighbours .*the true rate is 120 fps/],
    warns: /blended from their neighbours/,
    withinMs: 3,
  },
  {
    name: 'a few repeated pictures',
    make: async (path) => {
      const film = { capturedAtS: evenTimes(240, FRAMES), periodS: 1 / 240, presses: PRESSES };
      await encodePictures(
        path,
        240,
        sometimesRepeated(captures(film), (i) => i % 20 === 7),
      );
    },
    rateHz: 240,
    // One of the 24 may hide where its neighbours are coded anew.
    remark: ['repeated-frames', /^2[34] frames repeat the one before them; they count as missing captures/],
    warns: /2[34] frames repeat/,
  },
  {
    name: 'a display at 60 Hz that scrolls: held pictures are no copies',
    make: async (path) => {
      const film = { capturedAtS: evenTimes(240, FRAMES), periodS: 1 / 240, presses: PRESSES, scrolls: true };
      await encodePictures(path, 240, captures({ ...film, noiseCodes: 0 }), WITH_B);
    },
    rateHz: 240,
    remark: ['real-time', /240 fps/],
    withinMs: 4,
  },
];

function slowFilm() {
  return captures({ capturedAtS: evenTimes(120, FRAMES / 2), periodS: 1 / 120, presses: PRESSES });
}

/** A camera whose frames really come unevenly, by up to a third of a period. */
async function uneven(path: string): Promise<void> {
  const raw = path.replace('.mp4', '-even.mp4');
  const ticks = all.map((i) => i * 375 + Math.round(90 * Math.sin(i * 2.3) + 40 * Math.sin(i * 0.7)));
  const film = { capturedAtS: ticks.map((tick) => tick / 90_000), periodS: 1 / 240, presses: PRESSES };
  await encodePictures(raw, 240, captures(film));
  patchClip(raw, path, { ticks });
}

const turned = {
  90: ({ x, y, width, height }: PixelRect) => ({
    x: HEIGHT_PX - y - height,
    y: x,
    width: height,
    height: width,
  }),
  180: ({ x, y, width, height }: PixelRect) => ({
    x: WIDTH_PX - x - width,
    y: HEIGHT_PX - y - height,
    width,
    height,
  }),
  270: ({ x, y, width, height }: PixelRect) => ({
    x: y,
    y: WIDTH_PX - x - width,
    width: height,
    height: width,
  }),
} as const;

/** How the file is put together, and how the picture stands. */
export const FILE_CASES: readonly ContainerCase[] = [
  {
    name: 'trimmed start',
    make: patched({ edits: [{ durationS: 2, mediaTicks: 90 * 375, rate: 1 }] }),
    rateHz: 240,
    remark: ['trimmed', /hides 90 frames of the file/],
    warns: /hides 90 frames/,
    presses: PRESSES.filter((atS) => atS > 90 / 240).length,
  },
  {
    name: 'empty edit in front',
    make: patched({
      edits: [
        { durationS: 0.25, mediaTicks: -1, rate: 1 },
        { durationS: 2, mediaTicks: 0, rate: 1 },
      ],
    }),
    rateHz: 240,
    remark: ['start-offset', /starts 0\.250 s after the file's own start/],
  },
  {
    name: 'edit list that changes the speed',
    make: patched({
      edits: [
        { durationS: 0.5, mediaTicks: 0, rate: 1 },
        { durationS: 12, mediaTicks: 45_000, rate: 0.125 },
      ],
    }),
    rateHz: 240,
    remark: ['edited-speed', /changes the playback speed; the recorded times are used/],
    warns: /recorded times are used/,
  },
  {
    name: 'edit list of pieces',
    make: patched({
      edits: [
        { durationS: 0.5, mediaTicks: 0, rate: 1 },
        { durationS: 1, mediaTicks: 90_000, rate: 1 },
      ],
    }),
    rateHz: 240,
    remark: ['edited-pieces', /plays the clip in pieces; all frames/],
  },
  {
    name: 'B-frames',
    make: filmed(WITH_B),
    rateHz: 240,
    remark: ['reordered', /stored in another order than they are shown/],
  },
  {
    name: 'fragmented',
    make: remuxed('-movflags', 'frag_keyframe+empty_moov+default_base_moof'),
    rateHz: 240,
    remark: ['fragmented', /is fragmented and has no list of its frames/],
  },
  ...([90, 180, 270] as const).map(
    (turn): ContainerCase => ({
      name: `turned by ${turn}`,
      make: patched({
        matrix: ({ 90: [0, 1, -1, 0], 180: [-1, 0, 0, -1], 270: [0, -1, 1, 0] } as const)[turn],
      }),
      rateHz: 240,
      remark: ['rotated', new RegExp(`turned by ${turn} degrees clockwise`)],
      upright: turned[turn],
    }),
  ),
  {
    name: 'mirrored',
    make: patched({ matrix: [-1, 0, 0, 1] }),
    rateHz: 240,
    remark: ['mirrored', /stored mirrored/],
    upright: ({ x, y, width, height }) => ({ x: WIDTH_PX - x - width, y, width, height }),
  },
  {
    name: 'pixels that are not square',
    make: filmed([...H264, '-vf', 'setsar=4/3']),
    rateHz: 240,
    remark: ['non-square-pixels', /not square \(4:3\)/],
  },
  {
    name: 'cover picture',
    make: async (path, base) => {
      const cover = path.replace('.mp4', '.png');
      await ffmpeg('-f', 'lavfi', '-i', 'color=red:s=64x64:d=0.1', '-frames:v', '1', cover);
      patchClip(base, path, { coverPng: readFileSync(cover) });
    },
    rateHz: 240,
    remark: ['cover-picture', /cover picture, which is left aside/],
  },
  {
    name: 'sound first',
    make: (path, base) =>
      ffmpeg(
        ...['-f', 'lavfi', '-i', 'sine=d=2', '-i', base, '-map', '0:a', '-map', '1:v'],
        ...['-c:a', 'aac', '-c:v', 'copy', path],
      ),
    rateHz: 240,
    remark: ['sound-first', /Sound comes first/],
  },
  {
    name: 'two picture streams',
    make: async (path, base) => {
      const other = path.replace('.mp4', '-other.mp4');
      await ffmpeg('-f', 'lavfi', '-i', 'testsrc=s=64x64:r=30:d=1', '-c:v', 'libx264', other);
      await ffmpeg('-i', base, '-i', other, '-map', '0:v', '-map', '1:v', '-c', 'copy', path);
    },
    rateHz: 240,
    remark: ['several-streams', /2 picture streams; the first \(160 x 120 px\) is used/],
  },
  {
    name: "camera's own notes after the video",
    make: (path, base) => {
      patchClip(base, path, { captureTag: 240 });
      const notes = Buffer.from('SlowMotion_Data\u0000120:1800:3*');
      const head = Buffer.alloc(8);
      head.writeUInt32BE(8 + notes.length);
      head.write('sefd', 4, 'latin1');
      const tail = Buffer.from('SEFH\u0001\u0000\u0000\u0000\u0018\u0000\u0000\u0000SEFT', 'latin1');
      appendFileSync(path, Buffer.concat([head, notes, tail]));
    },
    rateHz: 240,
    remark: ['trailing-data', /^\d\d bytes after the video/],
  },
  {
    name: 'cut short',
    make: async (path, base) => {
      await ffmpeg('-i', base, '-c', 'copy', '-movflags', '+faststart', path);
      truncateSync(path, Math.floor(readFileSync(path).length * 0.7));
    },
    rateHz: 240,
    remark: ['cut-short', /cut short: 3\d\d of 480 frames are in it/],
    warns: /cut short/,
    presses: 6,
  },
  {
    name: 'interlaced',
    make: filmed([...H264, '-flags', '+ildct+ilme', '-x264opts', 'tff=1']),
    rateHz: 240,
    remark: ['interlaced', /interlaced: each holds two half-pictures/],
    warns: /interlaced/,
  },
];

/** Codecs and ranges of codes. */
export const CODEC_CASES: readonly ContainerCase[] = [
  {
    name: 'limited range, tagged',
    make: filmed([...H264, '-color_range', 'tv', ...BT709]),
    rateHz: 240,
    remark: ['limited-range', /limited range of codes \(16 to 235/],
  },
  {
    name: 'full range',
    make: filmed([...H264.slice(0, -1), 'yuvj420p'], { full: true }),
    rateHz: 240,
    remark: ['full-range', /full range of codes/],
  },
  {
    name: 'HEVC 8 bit',
    make: filmed([...X265, 'log-level=error:qp=12', '-tag:v', 'hvc1', '-pix_fmt', 'yuv420p']),
    rateHz: 240,
    remark: ['real-time', /240 fps/],
  },
  {
    name: 'HEVC 10 bit',
    make: filmed([...X265, 'log-level=error:qp=12', '-tag:v', 'hvc1', '-pix_fmt', 'yuv420p10le'], {
      bits: 10,
    }),
    rateHz: 240,
    remark: ['deep-colour', /10 bit and is measured in 10 bit/],
  },
  {
    name: 'HLG',
    make: filmed(
      [
        ...X265,
        'log-level=error:qp=12:colorprim=bt2020:transfer=arib-std-b67:colormatrix=bt2020nc',
        ...['-tag:v', 'hvc1', '-pix_fmt', 'yuv420p10le'],
      ],
      { bits: 10, curve: 'hlg' },
    ),
    rateHz: 240,
    remark: ['high-dynamic-range', /tone curve is HLG/],
  },
  {
    name: 'AV1',
    make: async (path, base) => {
      const encoder = await encoderOf('libaom-av1', 'libsvtav1');
      // Half as large and half as long: older encoders are slow.
      const options = ['-crf', '20', '-b:v', '0', '-cpu-used', '8', '-strict', '-2', '-pix_fmt', 'yuv420p'];
      const shape = ['-vsync', '0', '-frames:v', '240', '-vf', 'scale=80:60:flags=area'];
      await ffmpeg('-i', base, ...shape, '-c:v', encoder, ...options, path);
    },
    upright: ({ x, y, width, height }) => ({ x: x / 2, y: y / 2, width: width / 2, height: height / 2 }),
    presses: PRESSES.filter((atS) => atS < 0.9).length,
    rateHz: 240,
    remark: ['real-time', /240 fps/],
  },
  {
    name: 'VP9 in WebM, times in whole milliseconds',
    ending: 'webm',
    make: filmed([
      ...['-c:v', 'libvpx-vp9', '-deadline', 'realtime', '-cpu-used', '8', '-crf', '10', '-b:v', '0'],
      ...['-pix_fmt', 'yuv420p'],
    ]),
    rateHz: 240,
    remark: ['rounded-times', /rounds its times to 1\.00 ms; they fit an even grid/],
  },
  {
    name: 'Motion JPEG',
    ending: 'mov',
    make: filmed(['-c:v', 'mjpeg', '-q:v', '3', '-pix_fmt', 'yuvj420p'], { full: true }),
    rateHz: 240,
    remark: ['whole-pictures', /Every picture is coded by itself \(mjpeg\)/],
  },
];

/** The first encoder that this FFmpeg has; none is an error, so that no case is skipped in silence. */
async function encoderOf(...names: string[]): Promise<string> {
  const lines: string[] = [];
  await runFfmpeg({
    args: ['-encoders'],
    onOutput: [
      (piece) => {
        lines.push(piece.toString('latin1'));
        return undefined;
      },
    ],
  });
  const found = names.find((name) => new RegExp(`\\b${name}\\b`).test(lines.join('')));
  if (found === undefined) throw new Error(`this FFmpeg has none of the encoders ${names.join(', ')}`);
  return found;
}

/** Files that cannot be read at all: exit code 3 and a sentence. */
export const REFUSED_CASES: readonly {
  readonly name: string;
  readonly ending: string;
  readonly make: ContainerCase['make'];
  readonly says: RegExp;
}[] = [
  {
    name: 'raw H.264 without times',
    ending: 'h264',
    make: (path, base) => ffmpeg('-i', base, '-c', 'copy', '-bsf:v', 'h264_mp4toannexb', '-f', 'h264', path),
    says: /raw video stream without timestamps; give the MP4 or MOV file of the camera/,
  },
  {
    name: 'raw HEVC without times',
    ending: 'hevc',
    make: (path, base) =>
      ffmpeg(
        '-i',
        base,
        '-c:v',
        'libx265',
        '-x265-params',
        'log-level=error',
        '-t',
        '0.2',
        '-f',
        'hevc',
        path,
      ),
    says: /raw video stream without timestamps/,
  },
  {
    name: 'timescale 0',
    ending: 'mp4',
    make: (path, base) => patchClip(base, path, { timescale: 0 }),
    says: /no usable clock in its header .*copy it again/,
  },
  {
    name: 'index cut off',
    ending: 'mp4',
    make: (path, base) => writeFileSync(path, readFileSync(base).subarray(0, -2000)),
    says: /index/,
  },
];
