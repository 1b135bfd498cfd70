/** The rhythm of a backlight: light through it against a plain sum, and recovered from still frames. */
import { describe, expect, it } from 'vitest';
import { fitGate } from '../../src/onset/fitGate.js';
import { gateLight, gateOpenings } from '../../src/onset/gate.js';

const gate = {
  startT: 0.37,
  periodT: 0.43,
  duty: 0.3,
  exposure: 0.6,
  exposureSd: 0,
  residual: 0,
  startSdT: 0,
};

/** Plain sum over small steps of time. */
function summed(openT: number): number {
  const steps = 20_000;
  let open = 0;
  for (let i = 0; i < steps; i++) {
    const t = openT + ((i + 0.5) / steps) * gate.exposure;
    const turns = (t - gate.startT) / gate.periodT;
    if (turns - Math.floor(turns) < gate.duty) open++;
  }
  return (open / steps) * gate.exposure;
}

describe('light through a gate', () => {
  it.each([-3.21, -0.4, 0, 0.2, 0.36, 0.5, 7.77])('exposure at %d: the closed form is the sum', (openT) => {
    expect(gateLight(gate, openT, gate.exposure)).toBeCloseTo(summed(openT), 4);
  });
  it('its openings add up to it, and lie inside the exposure', () => {
    for (let openT = -2; openT < 2; openT += 0.07) {
      const pairs = gateOpenings(gate, openT);
      let sum = 0;
      for (let i = 0; i < pairs.length; i += 2) sum += pairs[i + 1]! - pairs[i]!;
      expect(sum).toBeCloseTo(gateLight(gate, openT, gate.exposure), 9);
      expect(pairs.every((t) => t >= 0 && t <= gate.exposure)).toBe(true);
    }
  });
});

describe('fitting a gate', () => {
  const search = {
    ...{ exposure: 0.6, exposureSd: 0.03, range: [0.1, 6] as const, expected: null },
    // 45 to 250 Hz at 240 frames a second.
    refreshes: [0.19, 1.04] as const,
  };
  const frames = Array.from({ length: 400 }, (_, k) => k);
  // Two bands of rows that are read out at different times, with a little noise that repeats.
  const film = (of: typeof gate) =>
    [0, 0.31].map((shift) => ({
      openT: Float64Array.from(frames, (k) => k + shift),
      values: Float64Array.from(
        frames,
        (k) => 2 * gateLight(of, k + shift, of.exposure) + 0.003 * Math.sin(k * k),
      ),
    }));

  it('finds a dimmer of 2.326 cycles a camera frame by its beat of 0.326', () => {
    const found = fitGate(film(gate), { ...search, perFrame: 1 / gate.periodT - 2 });
    expect(found).not.toBeNull();
    expect(found!.periodT).toBeCloseTo(gate.periodT, 4);
    expect(found!.duty).toBeCloseTo(gate.duty, 1);
    const turns = (found!.startT - gate.startT) / gate.periodT;
    expect(Math.abs(turns - Math.round(turns))).toBeLessThan(0.05);
  });
  it('finds a strobe slower than the camera', () => {
    const strobe = { ...gate, periodT: 4.004, duty: 0.08, startT: 1.2 };
    const found = fitGate(film(strobe), { ...search, perFrame: 1 / 4.004, expected: 1 / 4.004 });
    expect(found!.periodT).toBeCloseTo(4.004, 3);
    const turns = (found!.startT - 1.2) / 4.004;
    expect(Math.abs(turns - Math.round(turns)) * 4.004).toBeLessThan(0.06);
  });
  it('says how little a rhythm locked to the frames tells of its start', () => {
    const locked = { ...gate, periodT: 4, duty: 0.04, startT: 1.2 };
    const one = film(locked).slice(0, 1);
    const found = fitGate(one, { ...search, perFrame: 0.25, expected: 0.25 });
    expect(found!.startSdT).toBeGreaterThan(0.05);
  });
  it('takes a light that keeps pace with the frames for a display’s first, and says that it may be a dimmer’s', () => {
    const dimmer = { ...gate, periodT: 2 / 3, duty: 0.18, exposure: 0.22, startT: 0.56 };
    const little = { ...search, exposure: 0.22, exposureSd: 0.08, perFrame: 0.5 };
    const found = fitGate(film(dimmer), little)!;
    expect(found.mayBeDimmer).toBe(true);
    expect(1 / found.periodT).toBeCloseTo(0.5, 3);
    // Frames that meet ever new phases tell them apart.
    const moving = fitGate(film({ ...dimmer, periodT: 0.6721 }), { ...little, perFrame: 2 - 1 / 0.6721 })!;
    expect(moving.periodT).toBeCloseTo(0.6721, 4);
    expect(moving.mayBeDimmer).toBeUndefined();
  });
  it('tells the exposure from the pulses where the LED says little and something else, through a bent tone curve', () => {
    const slow = { ...gate, periodT: 1.607, duty: 0.32, exposure: 0.67 };
    // (1 + k) v / (1 + k v): steeper for little light, as phones are.
    const bent = film(slow).map((b) => ({
      ...b,
      values: b.values.map((v) => (1.5 * v) / (1 + 0.5 * v)),
    }));
    const little = { ...search, exposure: 0.8, exposureSd: 0.15 };
    const found = fitGate(bent, { ...little, perFrame: 1 - 1 / slow.periodT })!;
    expect(found.periodT).toBeCloseTo(slow.periodT, 3);
    expect(Math.abs(found.exposure - 0.67)).toBeLessThan(2 * found.exposureSd);
    expect(found.exposureSd).toBeLessThan(0.1);
  });
  it('refuses light without a rhythm', () => {
    const wild = film(gate).map((b) => ({ ...b, values: b.values.map((_, k) => 1 + Math.sin(k * k)) }));
    expect(fitGate(wild, { ...search, perFrame: 0.326 })).toBeNull();
  });
});
