/** Upright colour pictures from any frame onwards, for stepping through a clip: a jump first, then frame by frame. */
import { expected } from '../errors.js';
import { ticksToSeconds } from '../units.js';
import { inputArguments } from './clipFile.js';
import { runFluentToPieces } from './encode.js';
import { findFfmpeg } from './ffmpeg.js';
import type { ClipFacts } from './frameSource.js';
import { ignoresEdits, turns } from './uprightFilters.js';

/** From where, which, and how large. */
export interface PicturesRequest {
  /** Presentation time of the first picture, ticks of the clip's time base. */
  readonly fromTick: number;
  /** Only the frames with these times, ascending from `fromTick` (a few dozen at most); left out: all. */
  readonly onlyTicks?: readonly number[];
  /** Size of the upright picture that is wanted, px. */
  readonly width: number;
  readonly height: number;
}

/** One picture with the time that the container gives it. */
export interface TimedPicture {
  readonly tick: number;
  /** 8-bit RGB, row by row, `3 * width * height` bytes; the caller may keep it. */
  readonly rgb: Uint8Array;
}

const SHOWN = /\bn: *(\d+) +pts: *(-?\d+) /;

/**
 * Yields the frames that the decoder gives from `fromTick` to the clip's end, all or the chosen ones, each with its own time (FFmpeg names it
 * frame by frame), so that a frame that cannot be decoded is missing and never mistaken for the next. FFmpeg waits
 * while nobody asks for the next picture, and is ended where the caller stops.
 * @throws UsageError for a size that is none; AnalysisError `decoder-missing`, `decoder-failed`; the signal's reason.
 */
export async function* picturesFrom(
  path: string,
  facts: ClipFacts,
  { fromTick, onlyTicks, width, height }: PicturesRequest,
  signal?: AbortSignal,
): AsyncGenerator<TimedPicture> {
  if (!(Number.isInteger(width) && Number.isInteger(height) && width >= 1 && height >= 1))
    throw expected('size', 'whole pixels from 1', `${width} x ${height}`);
  for (const tick of [fromTick, ...(onlyTicks ?? [])])
    if (!Number.isInteger(tick)) throw expected('ticks', 'whole numbers', tick);
  const { supportsFpsMode } = await findFfmpeg();
  const input = inputArguments(path);
  // Half a period early, so that rounding never lands behind the frame; what comes before it is not shown.
  const seekS = ticksToSeconds(fromTick, facts.timeBase) - 0.5 / (facts.nominalRateHz ?? 60);
  const seek = seekS > 0 ? ['-noaccurate_seek', '-seek_timestamp', '1', '-ss', seekS.toFixed(6)] : [];
  const chosen = onlyTicks ? onlyTicks.map((tick) => `eq(pts,${tick})`).join('+') : `gte(pts,${fromTick})`;
  const filters = [
    `select='${chosen}'`,
    ...turns(facts),
    `scale=${width}:${height}:flags=fast_bilinear`,
    'showinfo',
  ];
  const ticks = new TickLines();
  const pieces = runFluentToPieces(
    (command) =>
      command
        .on('stderr', (line: string) => ticks.read(line))
        .input(input.at(-1)!)
        .inputOptions('-nostdin', '-hide_banner', '-nostats', '-copyts', '-noautorotate')
        .inputOptions(
          ...(ignoresEdits(facts) ? ['-ignore_editlist', '1'] : []),
          ...seek,
          ...input.slice(0, -2),
        )
        .outputOptions('-map', '0:V:0')
        .outputOptions(...(supportsFpsMode ? ['-fps_mode', 'passthrough'] : ['-vsync', '0']))
        .outputOptions('-vf', filters.join(','))
        .outputOptions('-pix_fmt', 'rgb24', ...(onlyTicks ? ['-frames:v', String(onlyTicks.length)] : []))
        .format('rawvideo'),
    3 * width * height,
    signal,
  );
  let n = 0;
  for await (const rgb of pieces) {
    yield { tick: await ticks.of(n), rgb };
    n++;
  }
}

/** The times that FFmpeg tells on its message stream, which may be read later than the picture itself. */
class TickLines {
  readonly #ticks = new Map<number, number>();
  readonly #waiting = new Map<number, (tick: number) => void>();

  read(line: string): void {
    const found = SHOWN.exec(line);
    if (!found) return;
    const n = Number(found[1]);
    const tick = Number(found[2]);
    const waiting = this.#waiting.get(n);
    this.#waiting.delete(n);
    if (waiting) waiting(tick);
    else this.#ticks.set(n, tick);
  }

  of(n: number): Promise<number> {
    const tick = this.#ticks.get(n);
    this.#ticks.delete(n);
    if (tick !== undefined) return Promise.resolve(tick);
    return new Promise((resolve) => this.#waiting.set(n, resolve));
  }
}
