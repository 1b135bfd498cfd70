/** A film as one looping picture file, GIF or WebP. */
import { expected } from '../../errors.js';
import { pictureLibrary } from './pictureLibrary.js';

/** A film in few pictures, each with the time that it stands. */
export interface LoopFrames {
  readonly width: number;
  readonly height: number;
  /** RGB, one after another. */
  readonly pictures: readonly Uint8Array[];
  /** How long each stands, s. */
  readonly shownS: readonly number[];
}

/** GIF counts time in hundredths of a second, WebP in thousandths; the film as a whole keeps its length. */
export function loopDelaysMs(shownS: readonly number[], format: 'gif' | 'webp'): number[] {
  const stepMs = format === 'gif' ? 10 : 1;
  let endS = 0;
  let endSteps = 0;
  return shownS.map((seconds) => {
    endS += seconds;
    const steps = Math.max(1, Math.round((endS * 1000) / stepMs) - endSteps);
    endSteps += steps;
    return steps * stepMs;
  });
}

/** Bytes of the file; loops for ever. Throws `UsageError` where pictures and times do not match. */
export async function loopingPicture(
  { width, height, pictures, shownS }: LoopFrames,
  format: 'gif' | 'webp',
): Promise<Uint8Array> {
  if (pictures.length === 0 || pictures.length !== shownS.length)
    throw expected('pictures', 'one or more, each with its time', `${pictures.length} and ${shownS.length}`);
  const sharp = await pictureLibrary();
  const stacked = sharp(Buffer.concat(pictures), {
    raw: { width, height: height * pictures.length, channels: 3, pageHeight: height },
    limitInputPixels: false,
  });
  const delay = loopDelaysMs(shownS, format);
  const bytes =
    format === 'gif'
      ? await stacked.gif({ delay, loop: 0, effort: 5, dither: 0.5 }).toBuffer()
      : await stacked.webp({ delay, loop: 0, quality: 84, effort: 3, smartSubsample: true }).toBuffer();
  return new Uint8Array(bytes);
}
