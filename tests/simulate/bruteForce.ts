/** An independent second way to the simulator's numbers: plain sums over time, from the formulas of the physics. */
import type { SceneScreen } from '../../src/simulate/scene.js';

/** Composite Simpson rule with `pieces` (even) pieces. */
export function simpson(f: (x: number) => number, from: number, to: number, pieces: number): number {
  const h = (to - from) / pieces;
  let sum = f(from) + f(to);
  for (let i = 1; i < pieces; i++) sum += (i % 2 === 1 ? 4 : 2) * f(from + i * h);
  return (sum * h) / 3;
}

/** Mean of f at the middles of `pieces` equal pieces: safe for jumps, where Simpson is not. */
export function middleMean(f: (x: number) => number, from: number, to: number, pieces: number): number {
  let sum = 0;
  for (let i = 0; i < pieces; i++) sum += f(from + ((i + 0.5) * (to - from)) / pieces);
  return sum / pieces;
}

function decay(tS: number, tauMs: number): number {
  return tS < 0 ? 0 : Math.exp(-tS / (tauMs / 1000));
}

/**
 * Light at one moment of one line (height 0 top .. 1 bottom) that changes from black to white (`toWhite`) or back at
 * a change whose first line is drawn at `changeS`; written down from the definitions, without integrals.
 */
export function lightOfLine(
  screen: SceneScreen,
  down: number,
  tS: number,
  changeS: number,
  toWhite: boolean,
): number {
  const refreshS = 1 / screen.refreshHz;
  const order = screen.direction === 'down' ? down : 1 - down;
  const delayS = screen.direction === 'all-at-once' ? 0 : order * screen.activeFraction * refreshS;
  const sinceS = tS - changeS - delayS;
  const { display } = screen;
  if (display.kind === 'tube') {
    let sum = 0;
    const latest = Math.floor((tS - delayS) / refreshS - screen.phase);
    for (let n = latest - 2; n <= latest; n++) {
      const frameS = (screen.phase + n) * refreshS;
      const shows = frameS >= changeS - 1e-9 === toWhite ? 1 : 0;
      const age = tS - frameS - delayS;
      if (age < 0) continue;
      sum += shows * (refreshS / (display.decayMs / 1000)) * decay(age, display.decayMs);
    }
    return sum;
  }
  const tauMs = display.kind === 'oled' ? display.tauMs : toWhite ? display.riseTauMs : display.fallTauMs;
  const over = display.kind === 'panel' ? display.overshoot : null;
  let share = 0;
  if (sinceS > 0) {
    share = 1 - decay(sinceS, tauMs);
    if (over) share += over.amplitude * (decay(sinceS, over.relaxMs) - decay(sinceS, tauMs));
  }
  const cells = toWhite ? share : 1 - share;
  if (display.kind === 'strobed') {
    const at = tS / refreshS - screen.phase - display.pulseStart;
    return at - Math.floor(at) < display.pulseShare ? cells / display.pulseShare : 0;
  }
  if (display.kind === 'pwm') {
    const at = tS * display.rateHz;
    return at - Math.floor(at) < display.duty ? cells / display.duty : 0;
  }
  return cells;
}
