/** Where a picture behind a gated backlight changed, frame by frame: with the gate known, each frame has a brightness of its own. */
import { type Gate, gateLight } from './gate.js';
import { twoLevels } from './pulseCrossings.js';
import type { Band, Crossing } from './windows.js';

// Two levels must be this far apart, in scatter of a frame about its level.
const LEAST_CONTRAST = 6;
const FEWEST_FRAMES = 24;
// Frames that caught less than this share of the light say little about the picture.
const LEAST_CAUGHT = 0.3;
// A state that is left again within so many frames that show it was noise.
const LEAST_STAY = 2;

/**
 * Changes between two brightnesses over the whole clip, in time order.
 * @param parts bands of a region, scaled so that the change reads the same step in each of them.
 * @returns null where the frames do not fall into two clear levels.
 */
export function gateCrossings(parts: readonly Band[], gate: Gate, periodS: number): Crossing[] | null {
  const frames = frameBrightness(parts, gate, periodS);
  if (frames.length < FEWEST_FRAMES) return null;
  const levels = twoLevels(frames.map((f) => f.brightness));
  if (levels.contrast < LEAST_CONTRAST) return null;
  const at = (share: number) => levels.low + share * (levels.high - levels.low);
  const crossings: Crossing[] = [];
  let bright = frames[0]!.brightness > at(0.5);
  frames.forEach(({ brightness }, i) => {
    const turns = bright ? brightness < at(0.35) : brightness > at(0.65);
    if (!turns) return;
    const stays = frames.slice(i, i + LEAST_STAY).every((f) => f.brightness > at(0.5) !== bright);
    if (!stays) return;
    bright = !bright;
    let first = i;
    while (first > 0 && frames[first - 1]!.brightness > at(0.5) === bright) first--;
    crossings.push({
      frame: Math.max(frames[first]!.frame, (crossings.at(-1)?.frame ?? -1) + 1),
      sign: bright ? 1 : -1,
    });
  });
  return crossings;
}

function frameBrightness(
  parts: readonly Band[],
  gate: Gate,
  periodS: number,
): { frame: number; brightness: number }[] {
  const frames = parts[0]?.signal.length ?? 0;
  const most = Math.max(1e-3, Math.min(gate.exposure, gate.duty * gate.periodT));
  const gg = new Float64Array(frames);
  const ge = new Float64Array(frames);
  for (const { signal, openS } of parts) {
    const light = Float64Array.from(openS, (s) => gateLight(gate, s / periodS, gate.exposure) / most);
    // Bands differ in the light that they have anyway; their lower quartile is of the same state in all of them.
    const own = Array.from(light.keys()).filter((k) => light[k]! > LEAST_CAUGHT);
    const base = own.map((k) => signal[k]! / light[k]!).sort((a, b) => a - b)[own.length >> 2] ?? 0;
    light.forEach((g, k) => {
      gg[k]! += g * g;
      ge[k]! += g * signal[k]! - base * g * g;
    });
  }
  return Array.from(gg.keys())
    .filter((k) => gg[k]! > LEAST_CAUGHT ** 2 * parts.length)
    .map((frame) => ({ frame, brightness: ge[frame]! / gg[frame]! }));
}
