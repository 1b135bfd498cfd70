/** Whole upright colour pictures of chosen frames, for people to look at; measuring reads luma with `readRects`. */
import { AnalysisError, expected } from '../errors.js';
import { inputArguments } from './clipFile.js';
import { runFluentToPieces } from './encode.js';
import { findFfmpeg } from './ffmpeg.js';
import type { ClipFacts } from './frameSource.js';
import { ignoresEdits, turns } from './uprightFilters.js';

/** Which frames, and how large. */
export interface PictureRequest {
  /** First and last index of each run of frames, both included, ascending and apart; indices as in `readRects`. */
  readonly runs: readonly (readonly [first: number, last: number])[];
  /** Size of the upright picture that is wanted, px. */
  readonly width: number;
  readonly height: number;
  /** `area` for small pictures that are averaged over, `sharp` for pictures to look at. */
  readonly scaling: 'area' | 'sharp';
}

/**
 * 8-bit RGB, row by row, `3 * width * height` bytes a frame, in order, exactly the frames that were asked for. The
 * caller may keep a picture. FFmpeg waits while nobody asks for the next one.
 * @throws UsageError for runs that are not in order; AnalysisError `decoder-failed`, also where the clip ends before
 *   the last frame; the signal's reason.
 */
export async function* readPictures(
  path: string,
  facts: ClipFacts,
  { runs, width, height, scaling }: PictureRequest,
  signal?: AbortSignal,
): AsyncGenerator<Uint8Array> {
  let wanted = 0;
  let after = -1;
  for (const [first, last] of runs) {
    if (!(Number.isInteger(first) && Number.isInteger(last) && first > after && last >= first))
      throw expected('runs', 'runs of frames in order', `${first} to ${last} after ${after}`);
    wanted += last - first + 1;
    after = last;
  }
  if (wanted === 0) return;
  const { supportsFpsMode } = await findFfmpeg();
  const input = inputArguments(path);
  const chosen = runs.map(([first, last]) => `between(n,${first},${last})`).join('+');
  const filters = [
    `select='${chosen}'`,
    ...turns(facts),
    `scale=${width}:${height}:flags=${scaling === 'area' ? 'area' : 'bicubic+accurate_rnd'}`,
  ];
  let pictures = 0;
  const pieces = runFluentToPieces(
    (command) =>
      command
        .input(input.at(-1)!)
        .inputOptions('-nostdin', '-hide_banner', '-copyts', '-noautorotate')
        // As in `openClip`, so that indices mean the same frames.
        .inputOptions(...(ignoresEdits(facts) ? ['-ignore_editlist', '1'] : []), ...input.slice(0, -2))
        .outputOptions('-map', '0:V:0')
        .outputOptions(...(supportsFpsMode ? ['-fps_mode', 'passthrough'] : ['-vsync', '0']))
        .outputOptions('-vf', filters.join(','))
        .outputOptions('-pix_fmt', 'rgb24')
        .outputOptions('-frames:v', String(wanted))
        .format('rawvideo'),
    3 * width * height,
    signal,
  );
  for await (const picture of pieces) {
    pictures++;
    yield picture;
  }
  if (pictures === wanted) return;
  throw new AnalysisError(
    'decoder-failed',
    `FFmpeg gave ${pictures} of ${wanted} frames of ${facts.file}; copy the clip again from the camera.`,
  );
}
