import { describe, expect, it } from 'vitest';
import { rateFromLight } from '../../src/calibrate/rateFromLight.js';
import { wrapCycles } from '../../src/calibrate/searchBands.js';

const ask = (lightHz: number, trueHz: number, declaredHz: number | null, mediaHz = declaredHz ?? 30) =>
  rateFromLight({
    lightHz,
    advance: wrapCycles(lightHz / trueHz),
    directed: true,
    declaredHz,
    mediaHz,
  });

describe('rateFromLight', () => {
  // Aliases of check-values 5.2: 1 kHz at 240 is seen at 40 Hz, at 239.76 at 40.96 Hz.
  it.each([
    [1000, 240, 40],
    [1000, 239.76, 40.96],
    [100, 119.88, 19.88],
    [1000, 960, 40],
  ])('%f Hz at %f Hz: seen at %f Hz, and resolved', (lightHz, trueHz, seenHz) => {
    expect(Math.abs(wrapCycles(lightHz / trueHz)) * trueHz).toBeCloseTo(seenHz, 6);
    const rate = ask(lightHz, trueHz, Math.round(trueHz / 10) * 10);
    expect(rate).toMatchObject({ direction: 1, overrules: false });
    expect(rate.rateHz).toBeCloseTo(trueHz, 9);
  });
  it('a light overrules a wrong tag where the file can be slow motion', () => {
    const rate = ask(1310, 119.9, 240, 30);
    expect(rate).toMatchObject({ overrules: true });
    expect(rate.rateHz).toBeCloseTo(119.9, 9);
  });
  it('finds the rate of a file that says nothing', () => {
    expect(ask(1310, 240.1, null, 30).rateHz).toBeCloseTo(240.1, 9);
  });
  it('does not overrule real-time timestamps by a ratio that no camera makes', () => {
    // A 120 Hz lamp taken for 100 Hz would mean 200 frames a second.
    const rate = rateFromLight({
      lightHz: 100,
      advance: 0.499,
      directed: true,
      declaredHz: 240,
      mediaHz: 240,
    });
    expect(rate.rateHz).toBeNull();
  });
  it('asks where several usual rates fit alike', () => {
    const rate = ask(10, 240, null, 30);
    expect(rate.rateHz).toBeCloseTo(240, 6);
    const open = ask(1200, 239.99, null, 30);
    expect(open).toMatchObject({ rateHz: null });
  });
  it('tells rows that are read upwards by the sign of the advance', () => {
    const advance = -wrapCycles(1000 / 240.05);
    const rate = rateFromLight({ lightHz: 1000, advance, directed: true, declaredHz: 240, mediaHz: 240 });
    expect(rate).toMatchObject({ direction: -1 });
    expect(rate.rateHz).toBeCloseTo(240.05, 9);
  });
  it('says that aliases lie too near where the light is very fast', () => {
    expect(ask(19_990, 119.9, 120)).toMatchObject({ ambiguous: true });
    expect(ask(1000, 119.9, 120)).toMatchObject({ ambiguous: false });
  });
});
