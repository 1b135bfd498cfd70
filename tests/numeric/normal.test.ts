import { expect, test } from 'vitest';
import {
  normalCdf,
  normalLogCdf,
  normalLogInterval,
  normalLogPdf,
  normalPdf,
  normalQuantile,
} from '../../src/numeric/normal.js';
import { normalCdfTable, normalIntegralTable, normalLogCdfTable } from '../../src/numeric/normalTables.js';

const relative = (found: number, wanted: number): number => Math.abs(found / wanted - 1);

test('tails keep their relative precision (mpmath, 60 digits)', () => {
  const wanted: [number, number][] = [
    [-37, 5.725571222524577e-300],
    [-20, 2.753624118606234e-89],
    [-8, 6.220960574271785e-16],
    [-5, 2.866515718791939e-7],
    [-1, 0.15865525393145705],
    [0.3, 0.6179114221889526],
    [3, 0.9986501019683699],
  ];
  for (const [z, p] of wanted) expect(relative(normalCdf(z), p)).toBeLessThan(1e-14);
});

test('logarithm of the tail is finite where the tail is not', () => {
  expect(relative(normalLogCdf(-100), -5005.524208694205)).toBeLessThan(1e-14);
  expect(relative(normalLogCdf(-1e4), -50000010.12927891)).toBeLessThan(1e-14);
  expect(relative(normalLogCdf(8), -6.220960574271787e-16)).toBeLessThan(1e-13);
});

test('interval of the normal in logarithms, both tails and the middle', () => {
  expect(normalLogInterval(-1, 1)).toBeCloseTo(Math.log(0.6826894921370859), 13);
  expect(normalLogInterval(30, 31)).toBeCloseTo(normalLogInterval(-31, -30), 12);
  // A narrow interval has the density times its width.
  expect(normalLogInterval(8, 8.000001)).toBeCloseTo(normalLogPdf(8.0000005) + Math.log(1e-6), 6);
  expect(normalLogInterval(1, 1)).toBe(Number.NEGATIVE_INFINITY);
});

test('quantile inverts the distribution function', () => {
  for (const p of [1e-300, 1e-20, 1e-6, 0.01, 0.08, 0.2, 0.5, 0.7, 0.99]) {
    expect(relative(normalCdf(normalQuantile(p)), p)).toBeLessThan(1e-12);
  }
  expect(normalQuantile(0.975)).toBeCloseTo(1.959963984540054, 14);
  expect(normalQuantile(0)).toBe(Number.NEGATIVE_INFINITY);
  expect(normalQuantile(1.5)).toBeNaN();
});

test('tables agree with the functions everywhere', () => {
  for (let z = -12; z < 12; z += 0.00737) {
    expect(Math.abs(normalCdfTable(z) - normalCdf(z))).toBeLessThan(1e-10);
    expect(Math.abs(normalLogCdfTable(z) - normalLogCdf(z))).toBeLessThan(1e-9);
    expect(Math.abs(normalIntegralTable(z) - (z * normalCdf(z) + normalPdf(z)))).toBeLessThan(1e-10);
  }
});
