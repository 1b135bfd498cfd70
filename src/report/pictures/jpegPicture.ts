/** A picture for the screen as JPEG bytes. */
import { expected } from '../../errors.js';
import type { OverlayPicture } from './overlay.js';
import { pictureLibrary } from './pictureLibrary.js';

/**
 * JPEG of an upright RGB picture, quality 82, baseline.
 * @throws UsageError where `rgb` has another length than `3 * width * height`.
 */
export async function jpegPicture({ width, height, rgb }: OverlayPicture): Promise<Uint8Array> {
  if (rgb.length !== 3 * width * height || rgb.length === 0)
    throw expected('rgb.length', `3 * ${width} * ${height} and more than 0`, rgb.length);
  const sharp = await pictureLibrary();
  return sharp(rgb, { raw: { width, height, channels: 3 } })
    .jpeg({ quality: 82, mozjpeg: false })
    .toBuffer();
}
