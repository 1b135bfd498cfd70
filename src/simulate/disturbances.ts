/** What else gets between lamp, LED and camera: another LED, somebody walking past the lamp, a thumb. */
import type { SceneRoom } from './scene.js';

/** Mean light of a second LED that blinks by itself, from `openS` to `closeS` (s, capture clock). */
export function secondLedLight(
  led: NonNullable<SceneRoom['secondLed']>,
  openS: number,
  closeS: number,
): number {
  // Time lit since the first blink: whole blinks, and the part of the one that is going on.
  const litUntil = (tS: number): number => {
    const blinks = tS / led.periodS - led.phase;
    const whole = Math.floor(blinks);
    return led.periodS * (whole * led.duty + Math.min(led.duty, blinks - whole));
  };
  return (led.light * (litUntil(closeS) - litUntil(openS))) / (closeS - openS);
}

/** Share of the lamp's light that a passer-by takes away at coded column `x` (px) and a time; null far from the passage. */
export function passerShade(
  passer: NonNullable<SceneRoom['passer']>,
  codedWidthPx: number,
  timeS: number,
): ((x: number) => number) | null {
  const speedPx = codedWidthPx / passer.crossS;
  const middleX = 0.5 * codedWidthPx + speedPx * (timeS - passer.middleS);
  const reachPx = 3 * passer.widthPx;
  if (middleX < -reachPx || middleX > codedWidthPx + reachPx) return null;
  return (x) => passer.depth * Math.exp(-0.5 * ((x - middleX) / passer.widthPx) ** 2);
}

/** Columns [from, to) of coded row `y` (px) that the thumb covers at a time; null for none. */
export function thumbCover(
  thumb: NonNullable<SceneRoom['thumb']>,
  y: number,
  timeS: number,
): readonly [number, number] | null {
  const { rect, slideS } = thumb;
  if (y < rect.y || y >= rect.y + rect.height) return null;
  for (const { fromS, toS } of thumb.moments) {
    const before = (fromS - timeS) / slideS;
    const after = (timeS - toS) / slideS;
    const away = Math.max(before, after, 0);
    if (away < 1) return [rect.x, rect.x + rect.width * (1 - away)];
  }
  return null;
}
