/** Upright pixels to coded pixels and back, and where a region lies in the sensor's readout. */
import { type ClipFacts, type PixelRect, uprightSize } from '../clip/frameSource.js';
import { UsageError } from '../errors.js';
import type { Region } from './region.js';

type PictureGeometry = Pick<ClipFacts, 'codedWidth' | 'codedHeight' | 'orientation'>;

/** The coded rectangle that shows an upright rectangle; exact, no rounding. Inverse of `codedToUpright`. */
export function uprightToCoded(rect: PixelRect, picture: PictureGeometry): PixelRect {
  const { codedWidth: w, codedHeight: h, orientation } = picture;
  const turned = unturn(rect, orientation.rotationDeg, w, h);
  return orientation.mirrored ? { ...turned, x: w - turned.x - turned.width } : turned;
}

function unturn(rect: PixelRect, rotationDeg: number, w: number, h: number): PixelRect {
  const { x, y, width, height } = rect;
  switch (rotationDeg) {
    case 90:
      return { x: y, y: h - x - width, width: height, height: width };
    case 180:
      return { x: w - x - width, y: h - y - height, width, height };
    case 270:
      return { x: w - y - height, y: x, width: height, height: width };
    default:
      return { x, y, width, height };
  }
}

/** The upright rectangle of a coded one. */
export function codedToUpright(rect: PixelRect, picture: PictureGeometry): PixelRect {
  const { codedWidth: w, codedHeight: h, orientation } = picture;
  const x = orientation.mirrored ? w - rect.x - rect.width : rect.x;
  const { y, width, height } = rect;
  switch (orientation.rotationDeg) {
    case 90:
      return { x: h - y - height, y: x, width: height, height: width };
    case 180:
      return { x: w - x - width, y: h - y - height, width, height };
    case 270:
      return { x: y, y: w - x - width, width: height, height: width };
    default:
      return { x, y, width, height };
  }
}

/** Middle of an upright rectangle in the order of the sensor's readout: 0 first coded row, 1 last. */
export function readoutPosition(rect: PixelRect, picture: PictureGeometry): number {
  const coded = uprightToCoded(rect, picture);
  return (coded.y + coded.height / 2) / picture.codedHeight;
}

/**
 * Checks a region against the picture and the rules of a recipe.
 * @throws UsageError naming the region, the rule and the picture's size.
 */
export function checkRegion(region: Region, picture: PictureGeometry): void {
  const size = uprightSize(picture);
  const { x, y, width, height } = region;
  const whole = [x, y, width, height].every((v) => Number.isInteger(v));
  if (!whole || width < 2 || height < 2) {
    throw new UsageError(
      `region "${region.name}" must have whole pixels and be at least 2 x 2, got x=${x} y=${y} width=${width} height=${height}`,
    );
  }
  if (x < 0 || y < 0 || x + width > size.width || y + height > size.height) {
    throw new UsageError(
      `region "${region.name}" (x=${x} y=${y} width=${width} height=${height}) lies outside the upright picture of ` +
        `${size.width} x ${size.height} px: choose a rectangle inside it`,
    );
  }
}
