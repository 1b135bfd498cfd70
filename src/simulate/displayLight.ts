/**
 * The light of a display during an exposure, in closed form. A pixel's mean light is
 * `backlight * settled picture + sum over changes of share * (picture after - picture before)`: changes superpose,
 * each with the time constant of its own direction (brighter or darker).
 */
import type { SceneScreen } from './scene.js';
import {
  exponentialStep,
  INSTANT,
  type StepResponse,
  scannedIntegral,
  scannedStep,
  slowestTauS,
} from './stepResponse.js';

/** A display's light as functions of the exposure; times in s on the capture clock, shares relative to steady white. */
export interface DisplayLight {
  readonly refreshS: number;
  /** Start of display frame 0, s. */
  readonly phaseS: number;
  readonly rising: StepResponse;
  readonly falling: StepResponse;
  /** Pulses of the whole screen's backlight; null where it is steady or the beam itself pulses. */
  readonly gate: { readonly periodS: number; readonly startS: number; readonly duty: number } | null;
  /** Decay of the phosphor, s; null for displays without a beam. */
  readonly beamDecayS: number | null;
  /** Time from a change's first line until nothing of it is left to happen anywhere on the screen, s. */
  readonly settleS: number;
  /** Time from a display frame's start until the height `down` (0 top, 1 bottom) is drawn, s. */
  lineDelayS(down: number): number;
  /** Mean light of a settled white during the exposure; lines drawn between the two delays. */
  backlight(openS: number, closeS: number, firstS: number, lastS: number): number;
  /** Mean light of a change from black to white (or back) that starts at `changeS`. */
  share(
    openS: number,
    closeS: number,
    firstS: number,
    lastS: number,
    changeS: number,
    brighter: boolean,
  ): number;
}

/** After this many time constants 1e-7 of a change is left: below a hundredth of the finest code value. */
const SETTLED_TAUS = 16;
/** Two display frames count as the same within this, s. */
const SAME_FRAME_S = 1e-9;

function cellsOf(screen: SceneScreen): { rising: StepResponse; falling: StepResponse } {
  const { display } = screen;
  switch (display.kind) {
    case 'tube':
      return { rising: INSTANT, falling: INSTANT };
    case 'oled': {
      const step = exponentialStep(display.tauMs);
      return { rising: step, falling: step };
    }
    case 'panel':
      return {
        rising: exponentialStep(display.riseTauMs, display.overshoot),
        falling: exponentialStep(display.fallTauMs, display.overshoot),
      };
    case 'strobed':
    case 'pwm':
      return { rising: exponentialStep(display.riseTauMs), falling: exponentialStep(display.fallTauMs) };
  }
}

function gateOf(screen: SceneScreen, phaseS: number): DisplayLight['gate'] {
  const { display } = screen;
  const refreshS = 1 / screen.refreshHz;
  if (display.kind === 'strobed') {
    return {
      periodS: refreshS,
      startS: phaseS + display.pulseStart * refreshS,
      duty: display.pulseShare,
    };
  }
  return display.kind === 'pwm' ? { periodS: 1 / display.rateHz, startS: 0, duty: display.duty } : null;
}

/** Calls `visit` with each stretch of [openS, closeS] in which the gate is open. */
export function eachGateOpening(
  gate: { readonly periodS: number; readonly startS: number; readonly duty: number },
  openS: number,
  closeS: number,
  visit: (fromS: number, toS: number) => void,
): void {
  const litS = gate.duty * gate.periodS;
  for (let n = Math.floor((openS - gate.startS - litS) / gate.periodS); ; n++) {
    const beginS = gate.startS + n * gate.periodS;
    if (beginS >= closeS) return;
    const fromS = Math.max(openS, beginS);
    const toS = Math.min(closeS, beginS + litS);
    if (toS > fromS) visit(fromS, toS);
  }
}

/**
 * Energy of one decaying flash between two times after it, averaged over lines, as a share of all of it: the
 * running energy 1 - exp(-t/tau) has the form of a step response.
 */
function beamEnergy(decay: StepResponse, fromS: number, toS: number, firstS: number, lastS: number): number {
  return scannedStep(decay, toS, firstS, lastS) - scannedStep(decay, fromS, firstS, lastS);
}

/** The closed forms of one screen. */
export function displayLight(screen: SceneScreen): DisplayLight {
  const refreshS = 1 / screen.refreshHz;
  const phaseS = screen.phase * refreshS;
  const { rising, falling } = cellsOf(screen);
  const gate = gateOf(screen, phaseS);
  const beamDecayS = screen.display.kind === 'tube' ? screen.display.decayMs / 1000 : null;
  const activeS = screen.activeFraction * refreshS;
  const lineDelayS = (down: number): number => {
    if (screen.direction === 'all-at-once') return 0;
    return activeS * (screen.direction === 'down' ? down : 1 - down);
  };
  const longestS = Math.max(slowestTauS(rising), slowestTauS(falling), beamDecayS ?? 0);
  const settleS = activeS + SETTLED_TAUS * longestS + (beamDecayS === null ? 0 : refreshS);
  const shared = { refreshS, phaseS, rising, falling, gate, beamDecayS, settleS, lineDelayS };

  if (beamDecayS !== null) {
    const decay: StepResponse = { terms: [{ amplitude: -1, tauS: beamDecayS }] };
    const beams = (openS: number, closeS: number, firstS: number, lastS: number, sinceS: number): number => {
      let energy = 0;
      const oldestS = Math.max(openS - lastS - SETTLED_TAUS * beamDecayS, sinceS - SAME_FRAME_S);
      for (let n = Math.ceil((oldestS - phaseS) / refreshS); ; n++) {
        const frameS = phaseS + n * refreshS;
        if (frameS + firstS >= closeS) break;
        energy += beamEnergy(decay, openS - frameS, closeS - frameS, firstS, lastS);
      }
      return (energy * refreshS) / (closeS - openS);
    };
    return {
      ...shared,
      backlight: (openS, closeS, firstS, lastS) =>
        beams(openS, closeS, firstS, lastS, Number.NEGATIVE_INFINITY),
      share: (openS, closeS, firstS, lastS, changeS) => beams(openS, closeS, firstS, lastS, changeS),
    };
  }
  if (gate !== null) {
    return {
      ...shared,
      backlight: (openS, closeS) => {
        let litS = 0;
        eachGateOpening(gate, openS, closeS, (fromS, toS) => {
          litS += toS - fromS;
        });
        return litS / (gate.duty * (closeS - openS));
      },
      share: (openS, closeS, firstS, lastS, changeS, brighter) => {
        let sum = 0;
        eachGateOpening(gate, openS, closeS, (fromS, toS) => {
          const cells = brighter ? rising : falling;
          sum += scannedIntegral(cells, fromS - changeS, toS - changeS, firstS, lastS);
        });
        return sum / (gate.duty * (closeS - openS));
      },
    };
  }
  return {
    ...shared,
    backlight: () => 1,
    share: (openS, closeS, firstS, lastS, changeS, brighter) =>
      scannedIntegral(brighter ? rising : falling, openS - changeS, closeS - changeS, firstS, lastS) /
      (closeS - openS),
  };
}
