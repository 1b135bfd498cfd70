/** One camera frame, drawn when it has come; until then the one before stays. */
import { useEffect, useRef } from 'preact/hooks';
import { GUARD_COLUMNS, GUARD_ROWS } from '../logic/flashGuard.js';

/** A picture that is ready to be drawn. */
export type ReadyPicture = ImageBitmap;

/** Draws a ready picture; `alt` says which frame it is and when it was captured. */
export function FramePicture({
  picture,
  alt,
  crisp,
}: {
  picture: ReadyPicture | null;
  alt: string;
  crisp: boolean;
}) {
  const canvas = useRef<HTMLCanvasElement>(null);
  useEffect(() => {
    const target = canvas.current;
    if (!target || !picture) return;
    if (target.width !== picture.width) target.width = picture.width;
    if (target.height !== picture.height) target.height = picture.height;
    target.getContext('2d')?.drawImage(picture, 0, 0);
  }, [picture]);
  return <canvas ref={canvas} role="img" aria-label={alt} class={crisp ? 'frame crisp' : 'frame'} />;
}

let scratch: CanvasRenderingContext2D | null = null;

/** Colours of a picture in a few cells, for the flash guard: sRGB bytes, three a cell. */
export function cellColours(picture: ReadyPicture): Uint8Array {
  if (!scratch) {
    const canvas = document.createElement('canvas');
    canvas.width = GUARD_COLUMNS;
    canvas.height = GUARD_ROWS;
    scratch = canvas.getContext('2d', { willReadFrequently: true });
  }
  if (!scratch) throw new Error('no canvas to judge flashes with');
  scratch.imageSmoothingQuality = 'high';
  scratch.drawImage(picture, 0, 0, GUARD_COLUMNS, GUARD_ROWS);
  const { data } = scratch.getImageData(0, 0, GUARD_COLUMNS, GUARD_ROWS);
  const colours = new Uint8Array(3 * GUARD_COLUMNS * GUARD_ROWS);
  for (let c = 0; c < GUARD_COLUMNS * GUARD_ROWS; c++) {
    for (let i = 0; i < 3; i++) colours[3 * c + i] = data[4 * c + i]!;
  }
  return colours;
}
