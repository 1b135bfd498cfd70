import { describe, expect, it } from 'vitest';
import { displayLight } from '../../src/simulate/displayLight.js';
import type { DisplayKind, SceneScreen } from '../../src/simulate/scene.js';
import { lightOfLine, middleMean } from './bruteForce.js';

const kinds: readonly DisplayKind[] = [
  { kind: 'panel', riseTauMs: 2, fallTauMs: 5, overshoot: null },
  { kind: 'panel', riseTauMs: 2, fallTauMs: 1, overshoot: { amplitude: 0.25, relaxMs: 5 } },
  { kind: 'oled', tauMs: 0.1 },
  { kind: 'tube', decayMs: 0.4 },
  { kind: 'strobed', riseTauMs: 2, fallTauMs: 3, pulseStart: 0.7, pulseShare: 0.1 },
  { kind: 'pwm', riseTauMs: 2, fallTauMs: 3, rateHz: 433, duty: 0.4 },
];

function screenWith(display: DisplayKind, direction: SceneScreen['direction'] = 'down'): SceneScreen {
  return {
    rect: { x: 0, y: 0, width: 100, height: 50 },
    refreshHz: 60,
    phase: 0.3,
    activeFraction: 0.95,
    direction,
    display,
    whiteLight: 1,
    bezelPx: 0,
  };
}

describe('display light', () => {
  for (const display of kinds) {
    for (const direction of ['down', 'up', 'all-at-once'] as const) {
      it(`${display.kind}, ${direction}: exposures agree with sums over time`, () => {
        const screen = screenWith(display, direction);
        const light = displayLight(screen);
        const changeS = (0.3 + 6) / 60;
        const [upper, lower] = [0.4, 0.42];
        const ends = [light.lineDelayS(upper), light.lineDelayS(lower)].sort((a, b) => a - b);
        const [firstS, lastS] = [ends[0]!, ends[1]!];
        for (const openS of [
          changeS - 0.004,
          changeS + 0.005,
          changeS + 0.0079,
          changeS + 0.011,
          changeS + 0.02,
        ]) {
          const closeS = openS + 0.0037;
          const summed = (toWhite: boolean): number =>
            middleMean(
              (down) =>
                middleMean((tS) => lightOfLine(screen, down, tS, changeS, toWhite), openS, closeS, 2000),
              upper,
              lower,
              24,
            );
          const back = light.backlight(openS, closeS, firstS, lastS);
          const up = light.share(openS, closeS, firstS, lastS, changeS, true);
          const fallen = light.share(openS, closeS, firstS, lastS, changeS, false);
          // Sums over 2000 moments and 24 lines of curves with jumps are good to a few times 1e-3 of a pulse's height.
          const tolerance = display.kind === 'tube' ? 0.02 : 0.003;
          expect(Math.abs(up - summed(true))).toBeLessThan(tolerance);
          expect(Math.abs(back - fallen - summed(false))).toBeLessThan(tolerance);
        }
      });
    }

    it(`${display.kind}: exposures back to back lose and add no energy`, () => {
      const light = displayLight(screenWith(display));
      const changeS = (0.3 + 6) / 60;
      // Many whole refreshes (and, for the dimmed backlight, whole dimming periods) long after the change.
      const fromS = 1;
      const toS = 1 + (display.kind === 'pwm' ? 433 / 433 : 60 / 60);
      let back = 0;
      let up = 0;
      const pieces = 240;
      for (let i = 0; i < pieces; i++) {
        const a = fromS + ((toS - fromS) * i) / pieces;
        const b = fromS + ((toS - fromS) * (i + 1)) / pieces;
        back += light.backlight(a, b, 0.007, 0.0072) / pieces;
        up += light.share(a, b, 0.007, 0.0072, changeS, true) / pieces;
      }
      expect(back).toBeCloseTo(1, 6);
      expect(up).toBeCloseTo(1, 6);
    });

    it(`${display.kind}: nothing is left to happen after the settling time`, () => {
      const light = displayLight(screenWith(display));
      const changeS = (0.3 + 6) / 60;
      const openS = changeS + light.settleS;
      const lastS = light.lineDelayS(1);
      for (let i = 0; i < 8; i++) {
        const a = openS + i * 0.0021;
        const back = light.backlight(a, a + 0.002, lastS - 1e-4, lastS);
        expect(Math.abs(light.share(a, a + 0.002, lastS - 1e-4, lastS, changeS, true) - back)).toBeLessThan(
          2e-6,
        );
        expect(Math.abs(light.share(a, a + 0.002, lastS - 1e-4, lastS, changeS, false) - back)).toBeLessThan(
          2e-6,
        );
      }
    });
  }
});
