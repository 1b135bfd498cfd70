/** How slowly a film must run so that nobody is flashed at. */
import { countFlashes, type FlashCount, type FlashGrid, MAX_FLASHES_PER_S } from './flashes.js';
import { type Film, makeFilm, type PressScene } from './timeline.js';

/** A film and what is known of its flashes. */
export interface PacedFilm {
  readonly film: Film;
  readonly flashes: FlashCount;
  /** False where more than three flashes fall into some second: the film must carry a caution. */
  readonly safe: boolean;
  /** The speed that was asked for, and its flashes. */
  readonly asked: { readonly slow: number; readonly flashes: FlashCount };
}

/** Slower than this, a press takes minutes. */
export const MAX_SLOW = 64;

/** Flashes of a film; `gridOf` gives the colours of a camera frame. */
export function flashesOf(film: Film, gridOf: (frame: number) => FlashGrid): FlashCount {
  const startS: number[] = [];
  let pictures = 0;
  for (const step of film.steps) {
    startS.push(pictures / film.rateHz);
    pictures += step.repeats;
  }
  return countFlashes(
    film.steps.map((step) => gridOf(step.shown.frame)),
    startS,
  );
}

/**
 * The film at the speed that was asked for, or, where that flashes more than three times in a second, at the nearest
 * slower whole factor that does not.
 * @param keepSpeed keeps the asked speed whatever it does.
 */
export function paceFilm(
  scenes: readonly PressScene[],
  periodS: number,
  askedSlow: number,
  gridOf: (frame: number) => FlashGrid,
  keepSpeed: boolean,
): PacedFilm {
  const asked = makeFilm(scenes, periodS, askedSlow);
  const askedFlashes = flashesOf(asked, gridOf);
  const about = { slow: askedSlow, flashes: askedFlashes };
  if (askedFlashes.flashesPerS <= MAX_FLASHES_PER_S)
    return { film: asked, flashes: askedFlashes, safe: true, asked: about };
  for (let slow = Math.floor(askedSlow) + 1; !keepSpeed && slow <= MAX_SLOW; slow++) {
    const film = makeFilm(scenes, periodS, slow);
    const flashes = flashesOf(film, gridOf);
    if (flashes.flashesPerS <= MAX_FLASHES_PER_S) return { film, flashes, safe: true, asked: about };
  }
  return { film: asked, flashes: askedFlashes, safe: false, asked: about };
}
