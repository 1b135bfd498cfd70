/** One upright picture of a clip in colour. */
import { AnalysisError, expected } from '../errors.js';
import { inputArguments } from './clipFile.js';
import { outputPipe, runFfmpeg } from './ffmpeg.js';
import { type ClipFacts, type StillPicture, uprightSize } from './frameSource.js';
import { ignoresEdits } from './uprightFilters.js';

/**
 * The picture nearest to a time, at most `maxWidth` wide.
 * @param mediaS time in the file, s.
 * @throws UsageError for a time outside the clip; AnalysisError `decoder-missing`, `decoder-failed`.
 */
export async function readStill(
  path: string,
  facts: ClipFacts,
  mediaS: number,
  maxWidth: number,
): Promise<StillPicture> {
  if (!Number.isFinite(mediaS) || mediaS < 0) throw expected('mediaS', 'a time from 0, in seconds', mediaS);
  if (!Number.isInteger(maxWidth) || maxWidth < 1)
    throw expected('maxWidth', 'a whole number from 1', maxWidth);
  const upright = uprightSize(facts);
  const width = Math.min(maxWidth, upright.width);
  const height = Math.max(1, Math.round((upright.height * width) / upright.width));
  // FFmpeg gives the first frame at or after the time; half a period earlier makes it the nearest.
  const seek = ['-ss', Math.max(0, mediaS - 0.5 / (facts.nominalRateHz ?? 60)).toFixed(6)];
  const withoutEdits = ignoresEdits(facts);
  const rgb = new Uint8Array(width * height * 3);
  let bytes = 0;
  const { exitCode, messages } = await runFfmpeg({
    args: [
      ...(withoutEdits ? ['-ignore_editlist', '1'] : seek),
      ...inputArguments(path),
      ...['-map', '0:V:0', ...(withoutEdits ? seek : [])],
      ...['-vf', `scale=${width}:${height}:flags=area`, '-pix_fmt', 'rgb24', '-frames:v', '1'],
      ...['-f', 'rawvideo', outputPipe(0)],
    ],
    onOutput: [
      (piece) => {
        if (bytes + piece.length > rgb.length)
          throw new AnalysisError('decoder-failed', 'FFmpeg wrote more than was asked for.');
        rgb.set(piece, bytes);
        bytes += piece.length;
        return undefined;
      },
    ],
  });
  if (exitCode !== 0) {
    const tail = messages.split('\n').slice(-6).join(' ').slice(-600);
    throw new AnalysisError('decoder-failed', `FFmpeg could not read a picture of ${facts.file}.`, { tail });
  }
  if (bytes !== rgb.length) throw expected('mediaS', 'a time inside the clip, in seconds', mediaS);
  return { width, height, rgb };
}
