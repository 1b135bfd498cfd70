/** Fetches and decodes the picture of a frame; what is not wanted any more never comes to the screen. */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { FlashGuard } from '../logic/flashGuard.js';
import type { DeskApi } from '../session/api.js';
import { FrameShelf } from '../session/frameShelf.js';
import { cellColours, type ReadyPicture } from './framePicture.js';

const nextPaint = (): Promise<number> => new Promise((go) => requestAnimationFrame(go));

/** A picture and the frame that it shows. */
export interface ShownPicture {
  readonly frame: number;
  readonly picture: ReadyPicture;
}

/**
 * The picture for a frame number, the last one until it has come; and a way to fetch others ahead. A picture that would
 * flash too often (say while a key is held down) waits until it does not.
 */
export function usePicture(
  api: DeskApi,
  clip: string,
  frames: number,
  frame: number,
  maxPx: number,
  unguarded: boolean,
): { shown: ShownPicture | null; fault: boolean; ready: (frame: number) => Promise<ReadyPicture> } {
  const shelf = useMemo(
    () => new FrameShelf((k, signal) => api.frame(clip, k, maxPx, signal), frames),
    [api, clip, frames, maxPx],
  );
  const [shown, setShown] = useState<ShownPicture | null>(null);
  const [fault, setFault] = useState(false);
  useEffect(() => () => shelf.close(), [shelf]);
  const guard = useRef<FlashGuard | null>(null);
  guard.current ??= new FlashGuard();
  const free = useRef(unguarded);
  free.current = unguarded;
  useEffect(() => {
    let wanted = true;
    const bring = async (): Promise<void> => {
      const picture = await createImageBitmap(await shelf.get(frame));
      const colours = cellColours(picture);
      let nowMs = await nextPaint();
      while (wanted && !free.current && !guard.current!.admits(colours, nowMs / 1000))
        nowMs = await nextPaint();
      if (!wanted) {
        picture.close();
        return;
      }
      setFault(false);
      setShown((before) => {
        // Some frames further the drawing has surely happened; closing at once could pull it from under the canvas.
        if (before) setTimeout(() => before.picture.close(), 1000);
        const by = before && Math.abs(frame - before.frame) <= 10 ? frame - before.frame : 1;
        void shelf.readAhead(frame, by === 0 ? 1 : by);
        return { frame, picture };
      });
    };
    bring().catch(() => wanted && setFault(true));
    return () => {
      wanted = false;
    };
  }, [shelf, frame]);
  const ready = useMemo(() => (k: number) => shelf.get(k).then(createImageBitmap), [shelf]);
  return { shown, fault, ready };
}
