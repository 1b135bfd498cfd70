import { describe, expect, it } from 'vitest';
import { ledLight } from '../../src/simulate/ledLight.js';
import type { SceneLed } from '../../src/simulate/scene.js';
import type { ScheduledPress } from '../../src/simulate/schedule.js';
import { middleMean } from './bruteForce.js';

const led: SceneLed = {
  shape: 'disc',
  centerXPx: 10,
  centerYPx: 10,
  widthPx: 8,
  heightPx: 8,
  haloRadiusPx: 2,
  haloShare: 0.2,
  offLight: 0.05,
  onLight: 0.85,
  riseMs: 0.8,
  pwm: null,
  edge: 'lights-on-press',
  holdS: 0.1,
};
const press = (index: number, pressS: number, releaseS: number): ScheduledPress => ({
  index,
  pressS,
  releaseS,
  status: 'answered',
  changeS: null,
  waitMs: null,
  extraMs: null,
});
const presses = [press(0, 0.1, 0.2), press(1, 0.5, 0.6)];

/** The LED at one moment, from its definition. */
function ledAt(lamp: SceneLed, tS: number): number {
  const ramp = (t: number): number => Math.min(1, Math.max(0, t / (lamp.riseMs / 1000)));
  const down = presses.reduce((sum, p) => sum + ramp(tS - p.pressS) - ramp(tS - p.releaseS), 0);
  const lit = lamp.edge === 'lights-on-press' ? down : 1 - down;
  let gate = 1;
  if (lamp.pwm) {
    const starts = presses.map((p) => (lamp.edge === 'lights-on-press' ? p.pressS : p.releaseS));
    const at = (tS - (starts.filter((s) => s <= tS).at(-1) ?? 0)) * lamp.pwm.rateHz;
    gate = at - Math.floor(at) < lamp.pwm.duty ? 1 / lamp.pwm.duty : 0;
  }
  return lamp.offLight + (lamp.onLight - lamp.offLight) * lit * gate;
}

describe('LED light', () => {
  const lamps: readonly [string, SceneLed][] = [
    ['steady', led],
    ['goes off on press', { ...led, edge: 'goes-off-on-press' }],
    ['dimmed by pulses', { ...led, pwm: { rateHz: 500, duty: 0.3 } }],
    [
      'goes off on press, dimmed by pulses',
      { ...led, edge: 'goes-off-on-press', pwm: { rateHz: 500, duty: 0.3 } },
    ],
  ];
  it.each(lamps)('%s: exposures agree with sums over time', (_, lamp) => {
    for (const openS of [0.05, 0.0985, 0.1001, 0.15, 0.1995, 0.2005, 0.4997, 0.7]) {
      const closeS = openS + 0.0039;
      const summed = middleMean((tS) => ledAt(lamp, tS), openS, closeS, 40_000);
      expect(ledLight(lamp, presses, openS, closeS)).toBeCloseTo(summed, 3);
    }
  });

  it('shows the share of the exposure that was lit', () => {
    const sharp = { ...led, riseMs: 0, offLight: 0, onLight: 1 };
    expect(ledLight(sharp, presses, 0.099, 0.103)).toBeCloseTo(0.75, 12);
    expect(ledLight(sharp, presses, 0.09, 0.1)).toBe(0);
    expect(ledLight(sharp, presses, 0.1, 0.11)).toBeCloseTo(1, 12);
  });
});
