import { expect, test } from 'vitest';
import { decodeLight, encodeLight, type Transfer } from '../../src/units.js';

// Light to encoded value. BT.709-6 OETF; BT.2100-2 table 5 (HLG); computed from the formulas of the standards.
test.each<[Transfer, number, number]>([
  ['bt709', 0.01, 0.045],
  ['bt709', 0.05, 0.186233],
  ['bt709', 0.18, 0.408848],
  ['bt709', 0.25, 0.489802],
  ['bt709', 0.5, 0.705436],
  ['bt709', 0.75, 0.866515],
  ['hlg', 0.01, 0.173205],
  ['hlg', 0.05, 0.387298],
  ['hlg', 0.18, 0.672358],
  ['hlg', 0.5, 0.871643],
  ['hlg', 1 / 12, 0.5],
])('%s encodes %f as %f', (transfer, light, encoded) => {
  // The table uses the rounded constants 1.099 and 0.018 of BT.709, units.ts the exact ones: 2e-4 apart at most.
  const tolerance = transfer === 'bt709' ? 3e-4 : 1e-6;
  expect(Math.abs(encodeLight(light, transfer) - encoded)).toBeLessThan(tolerance);
  expect(decodeLight(encodeLight(light, transfer), transfer)).toBeCloseTo(light, 6);
});

// IEC 61966-2-1 (sRGB).
test.each([
  [0.1, 0.0100228],
  [0.25, 0.0508761],
  [0.5, 0.2140411],
  [0.75, 0.5225216],
])('sRGB %f is light %f', (encoded, light) => {
  expect(decodeLight(encoded, 'srgb')).toBeCloseTo(light, 7);
  expect(encodeLight(light, 'srgb')).toBeCloseTo(encoded, 5);
});

// SMPTE ST 2084: 10000 cd/m2 at code 1; 100 cd/m2 at 0.5081 and 1000 cd/m2 at 0.7518 (ITU-R BT.2408, from memory).
test.each([
  [100, 0.5081],
  [1000, 0.7518],
  [10_000, 1],
])('PQ %i cd/m2 is code %f', (cdPerM2, encoded) => {
  expect(encodeLight(cdPerM2 / 10_000, 'pq')).toBeCloseTo(encoded, 4);
  expect(decodeLight(encodeLight(cdPerM2 / 10_000, 'pq'), 'pq') * 10_000).toBeCloseTo(cdPerM2, 4);
});

test('a half-lit frame is stored far above half: 0.705 (BT.709), 0.735 (sRGB), 0.872 (HLG)', () => {
  expect(encodeLight(0.5, 'bt709')).toBeCloseTo(0.7054, 3);
  expect(encodeLight(0.5, 'srgb')).toBeCloseTo(0.7354, 4);
  expect(encodeLight(0.5, 'hlg')).toBeCloseTo(0.8716, 4);
});
