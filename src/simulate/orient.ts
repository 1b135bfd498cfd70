/** Upright pixels to coded pixels and back, for a picture that a player turns clockwise by the container's rotation. */
import type { PixelRect } from '../clip/frameSource.js';
import type { Scene } from './scene.js';

/** Size of the coded picture, px. */
export function codedSize(picture: Scene['picture']): { width: number; height: number } {
  const turned = picture.rotationDeg === 90 || picture.rotationDeg === 270;
  return turned
    ? { width: picture.heightPx, height: picture.widthPx }
    : { width: picture.widthPx, height: picture.heightPx };
}

/**
 * The coded rectangle that shows up as `upright` after the turn. A quarter turn clockwise takes coded (x, y) to
 * upright (codedHeight - 1 - y, x).
 */
export function uprightToCoded(picture: Scene['picture'], upright: PixelRect): PixelRect {
  const { x, y, width, height } = upright;
  const right = picture.widthPx - x - width;
  const below = picture.heightPx - y - height;
  switch (picture.rotationDeg) {
    case 0:
      return { x, y, width, height };
    case 90:
      return { x: y, y: right, width: height, height: width };
    case 180:
      return { x: right, y: below, width, height };
    case 270:
      return { x: below, y: x, width: height, height: width };
  }
}

/** The upright rectangle that the coded rectangle shows up as after the turn; inverse of `uprightToCoded`. */
export function codedToUpright(picture: Scene['picture'], coded: PixelRect): PixelRect {
  const { x, y, width, height } = coded;
  const size = codedSize(picture);
  const right = size.width - x - width;
  const below = size.height - y - height;
  switch (picture.rotationDeg) {
    case 0:
      return { x, y, width, height };
    case 90:
      return { x: below, y: x, width: height, height: width };
    case 180:
      return { x: right, y: below, width, height };
    case 270:
      return { x: y, y: right, width: height, height: width };
  }
}
