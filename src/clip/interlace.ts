/** Whether pictures are interlaced, asked of the decoder: the report of older FFmpeg builds leaves it out. */
import { inputArguments } from './clipFile.js';
import { outputPipe, runFfmpeg } from './ffmpeg.js';

/** Codecs that can code half-pictures and whose containers need not say so; no other decoder is started. */
const CAN_INTERLACE = 'h264,hevc,mpeg4';

/** Decodes the first picture and reads its flag; false where the codec knows no half-pictures. */
export async function isInterlaced(path: string, signal?: AbortSignal): Promise<boolean> {
  let interlaced = false;
  await runFfmpeg({
    args: [
      ...['-codec_whitelist', CAN_INTERLACE],
      ...inputArguments(path),
      ...['-map', '0:V:0', '-frames:v', '1', '-vf', 'showinfo', '-f', 'framecrc', outputPipe(0)],
    ],
    onOutput: [() => undefined],
    onMessage: (line) => {
      if (/showinfo.* i:[TB] /.test(line)) interlaced = true;
    },
    signal,
  });
  return interlaced;
}
