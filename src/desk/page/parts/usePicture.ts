/** Fetches and decodes the picture of a frame; what is not wanted any more never comes to the screen. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import type { DeskApi } from '../session/api.js';
import { FrameShelf } from '../session/frameShelf.js';
import type { ReadyPicture } from './framePicture.js';

/** A picture and the frame that it shows. */
export interface ShownPicture {
  readonly frame: number;
  readonly picture: ReadyPicture;
}

/** The picture for a frame number, the last one until it has come; and a way to fetch others ahead. */
export function usePicture(
  api: DeskApi,
  clip: string,
  frames: number,
  frame: number,
  maxPx: number,
): { shown: ShownPicture | null; fault: boolean; ready: (frame: number) => Promise<ReadyPicture> } {
  const shelf = useMemo(
    () => new FrameShelf((k, signal) => api.frame(clip, k, maxPx, signal), frames),
    [api, clip, frames, maxPx],
  );
  const [shown, setShown] = useState<ShownPicture | null>(null);
  const [fault, setFault] = useState(false);
  useEffect(() => () => shelf.close(), [shelf]);
  useEffect(() => {
    let wanted = true;
    shelf
      .get(frame)
      .then(createImageBitmap)
      .then((picture) => {
        if (!wanted) return picture.close();
        setFault(false);
        setShown((before) => {
          // Two frames further the drawing has surely happened; closing at once could pull it from under the canvas.
          if (before) setTimeout(() => before.picture.close(), 1000);
          const by = before && Math.abs(frame - before.frame) <= 10 ? frame - before.frame : 1;
          shelf.readAhead(frame, by === 0 ? 1 : by);
          return { frame, picture };
        });
      })
      .catch(() => wanted && setFault(true));
    return () => {
      wanted = false;
    };
  }, [shelf, frame]);
  const ready = useMemo(() => (k: number) => shelf.get(k).then(createImageBitmap), [shelf]);
  return { shown, fault, ready };
}
