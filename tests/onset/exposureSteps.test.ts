import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { flagExposureSteps, flagSharedSteps, lightAround } from '../../src/onset/exposureSteps.js';
import type { Onset, OnsetSet } from '../../src/onset/onset.js';
import { ledTrace } from './syntheticEdges.js';

const PERIOD_S = 1 / 240;
const ON_S = 0.12;
const LAG_S = 0.07;
const pressesS = Array.from({ length: 8 }, (_, i) => 0.3 + 0.61 * i);

function onset(atS: number, sign: 1 | -1 = 1): Onset {
  return {
    ...{ frame: Math.ceil(atS / PERIOD_S), kind: 0, sign, contrast: 100 },
    ...{ firstLightS: atS, levelS: atS, halfS: atS + 0.002, settledS: atS + 0.005, sdS: 0.0002 },
    ...{ excessKurtosis: 0, intervalS: [atS, atS], before: 0, after: 1, flags: [] },
  };
}

/** Indices of the flagged answers, of a clip whose light is multiplied frame by frame. */
function flagged(gain: (atS: number) => number): number[] {
  const lights = pressesS.map((onS) => ({ onS, offS: onS + ON_S }));
  const setting = { frames: 1300, periodS: PERIOD_S, exposure: 0.9, noise: 0.003 };
  const trace = ledTrace(seededRandom(71), lights, setting);
  const light = trace.light.map((v, i) => v * gain(trace.openS[Math.floor(i / trace.cells)]!));
  const screen = {
    region: { name: 'screen', role: 'screen', x: 0, y: 0, width: 8, height: 8 },
    onsets: pressesS.map((p) => onset(p + LAG_S)),
  } as unknown as OnsetSet;
  const switches = lights.flatMap(({ onS, offS }) => [onset(onS), onset(offS, -1)]);
  const found = flagExposureSteps(screen, lightAround({ ...trace, light }), switches);
  return found.onsets.flatMap((o, i) => (o.flags.includes('exposure-step') ? [i] : []));
}

describe('exposure steps during a response', () => {
  it('are flagged, and only there', () => {
    const stepS = pressesS[3]! + LAG_S + 0.002;
    expect(flagged((atS) => (atS > stepS ? 0.75 : 1))).toEqual([3]);
  });

  it('between two presses are none of a response', () => {
    const stepS = pressesS[3]! + 0.4;
    expect(flagged((atS) => (atS > stepS ? 0.75 : 1))).toEqual([]);
  });

  it('are not the light that the screen itself throws on the controller each time', () => {
    expect(flagged((atS) => (pressesS.some((p) => atS > p + LAG_S && atS < p + 0.4) ? 1.2 : 1))).toEqual([]);
  });

  it('are neither a slow drift nor noise', () => {
    expect(flagged((atS) => 1 + 0.1 * Math.sin(2 * atS))).toEqual([]);
    expect(flagged(() => 1)).toEqual([]);
  });

  it('are flagged in all regions of the screen that answer at that time, and in no others', () => {
    const lights = pressesS.map((onS) => ({ onS, offS: onS + ON_S }));
    const setting = { frames: 1300, periodS: PERIOD_S, exposure: 0.9, noise: 0.003 };
    const trace = ledTrace(seededRandom(71), lights, setting);
    const stepS = pressesS[3]! + LAG_S + 0.002;
    const light = trace.light.map(
      (v, i) => v * (trace.openS[Math.floor(i / trace.cells)]! > stepS ? 0.75 : 1),
    );
    const region = (name: string, presses: readonly number[], lagS: number) =>
      ({ region: { name }, onsets: presses.map((p) => onset(p + lagS)) }) as unknown as OnsetSet;
    // Four responses of the lower region are too few to have a usual change of their own.
    const screens = [region('top', pressesS, LAG_S), region('bottom', pressesS.slice(1, 5), LAG_S + 0.012)];
    const switches = lights.flatMap(({ onS, offS }) => [onset(onS), onset(offS, -1)]);
    const [top, bottom] = flagSharedSteps(screens, lightAround({ ...trace, light }), switches).map((s) =>
      s.onsets.flatMap((o, i) => (o.flags.includes('exposure-step') ? [i] : [])),
    );
    expect(top).toEqual([3]);
    expect(bottom).toEqual([2]);
  });
});
