/** Plays a clip slowly, and stops before the picture would flash more than three times in a second. */
import { useCallback, useEffect, useRef, useState } from 'preact/hooks';
import { FlashGuard, picturesPerS } from '../logic/flashGuard.js';
import { cellColours, type ReadyPicture } from './framePicture.js';

const nextPaint = (): Promise<number> => new Promise((go) => requestAnimationFrame(go));

/** What playing needs. */
export interface PlayingInput {
  readonly frames: number;
  readonly frame: number;
  readonly captureRateHz: number;
  readonly speed: number;
  readonly ready: (frame: number) => Promise<ReadyPicture>;
  readonly onFrame: (frame: number) => void;
}

/** The state of playing. `held`: stopped because the next picture would be one flash too many. */
export interface Playing {
  readonly playing: boolean;
  readonly held: boolean;
  /** True while a person who was warned lets it play on. */
  readonly unguarded: boolean;
  /** @param unguarded true only where a person was warned and wants it so. */
  readonly play: (unguarded: boolean) => void;
  readonly stop: () => void;
}

/** See the head of this file. */
export function usePlaying(input: PlayingInput): Playing {
  const [mode, setMode] = useState<'off' | 'guarded' | 'unguarded'>('off');
  const [held, setHeld] = useState(false);
  const latest = useRef(input);
  latest.current = input;

  useEffect(() => {
    if (mode === 'off') return;
    let on = true;
    const guard = new FlashGuard();
    const run = async (): Promise<void> => {
      let dueMs = await nextPaint();
      while (on) {
        const { frames, frame, captureRateHz, speed, ready, onFrame } = latest.current;
        const { rateHz, framesEach } = picturesPerS(captureRateHz, speed);
        const next = frame + framesEach;
        if (next >= frames) {
          setMode('off');
          return;
        }
        const picture = await ready(next);
        let nowMs = await nextPaint();
        while (on && nowMs < dueMs) nowMs = await nextPaint();
        if (!on) return;
        const colours = cellColours(picture);
        picture.close();
        if (mode === 'guarded' && !guard.admits(colours, nowMs / 1000)) {
          setHeld(true);
          setMode('off');
          return;
        }
        onFrame(next);
        dueMs = Math.max(dueMs + 1000 / rateHz, nowMs);
      }
    };
    run().catch(() => on && setMode('off'));
    return () => {
      on = false;
    };
  }, [mode]);

  const play = useCallback((unguarded: boolean) => {
    setHeld(false);
    setMode(unguarded ? 'unguarded' : 'guarded');
  }, []);
  const stop = useCallback(() => {
    setHeld(false);
    setMode('off');
  }, []);
  return { playing: mode !== 'off', held, unguarded: mode === 'unguarded', play, stop };
}
