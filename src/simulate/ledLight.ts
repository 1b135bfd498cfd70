/** The LED's light during an exposure, in closed form: linear edges, optionally chopped by pulses. */
import { eachGateOpening } from './displayLight.js';
import type { SceneLed } from './scene.js';
import type { ScheduledPress } from './schedule.js';

/** Integral from 0 to t of a ramp that rises from 0 to 1 during `riseS`, s. */
function rampIntegral(tS: number, riseS: number): number {
  if (tS <= 0) return 0;
  return tS < riseS ? (tS * tS) / (2 * riseS) : tS - 0.5 * riseS;
}

/** Mean of the LED's light from `openS` to `closeS` (s, capture clock), in the units of `onLight`. */
export function ledLight(
  led: SceneLed,
  presses: readonly ScheduledPress[],
  openS: number,
  closeS: number,
): number {
  const riseS = led.riseMs / 1000;
  const lightsOnPress = led.edge === 'lights-on-press';
  const litOver = (fromS: number, toS: number): number => {
    let downS = 0;
    for (const { pressS, releaseS } of presses) {
      if (pressS >= toS || releaseS + riseS <= fromS) continue;
      downS +=
        rampIntegral(toS - pressS, riseS) -
        rampIntegral(fromS - pressS, riseS) -
        rampIntegral(toS - releaseS, riseS) +
        rampIntegral(fromS - releaseS, riseS);
      for (const { afterMs, openMs } of led.bounces ?? []) {
        const opensS = pressS + afterMs / 1000;
        const closesS = opensS + openMs / 1000;
        downS -=
          rampIntegral(toS - opensS, riseS) -
          rampIntegral(fromS - opensS, riseS) -
          rampIntegral(toS - closesS, riseS) +
          rampIntegral(fromS - closesS, riseS);
      }
    }
    return lightsOnPress ? downS : toS - fromS - downS;
  };
  const exposureS = closeS - openS;
  let litS: number;
  if (led.pwm === null) {
    litS = litOver(openS, closeS);
  } else {
    // The driver starts its pulses afresh whenever it switches the LED on.
    const { rateHz, duty } = led.pwm;
    let sum = 0;
    const addStretch = (startS: number, fromS: number, toS: number): void => {
      eachGateOpening({ periodS: 1 / rateHz, startS, duty }, fromS, toS, (a, b) => {
        sum += litOver(a, b);
      });
    };
    let startS = 0;
    let fromS = openS;
    for (const press of presses) {
      const onS = lightsOnPress ? press.pressS : press.releaseS;
      if (onS > fromS && onS < closeS) {
        addStretch(startS, fromS, onS);
        fromS = onS;
      }
      if (onS < closeS) startS = onS;
    }
    addStretch(startS, fromS, closeS);
    litS = sum / led.pwm.duty;
  }
  return led.offLight + ((led.onLight - led.offLight) * litS) / exposureS;
}
