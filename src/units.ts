/**
 * Quantities and conversions: container ticks to seconds, code values to linear light.
 * "luma" is always encoded (the number in the file); "light" is always linear, 0..1 from black to white.
 */
import { expected } from './errors.js';

/** Seconds per tick as a fraction: `[1, 90000]` is a 90 kHz clock. */
export type TimeBase = readonly [numerator: number, denominator: number];

/** Seconds of a whole number of ticks. */
export function ticksToSeconds(ticks: number, timeBase: TimeBase): number {
  return (ticks * timeBase[0]) / timeBase[1];
}

/** How code values relate to light, after the clip's own tags. */
export type Transfer = 'bt709' | 'srgb' | 'hlg' | 'pq' | 'linear';

/** Which code values mean black and white. */
export type CodeRange = 'limited' | 'full';

// BT.709-6 item 1.2 / BT.2020-2 table 4, exact constants (12-bit precision form of 1.099 and 0.018).
const BT709_ALPHA = 1.09929682680944;
const BT709_BETA = 0.018053968510807;

// ITU-R BT.2100-2 table 5, reference HLG OETF.
const HLG_A = 0.17883277;
const HLG_B = 1 - 4 * HLG_A;
const HLG_C = 0.5 - HLG_A * Math.log(4 * HLG_A);

// SMPTE ST 2084 / BT.2100-2 table 4.
const PQ_M1 = 2610 / 16384;
const PQ_M2 = (2523 / 4096) * 128;
const PQ_C1 = 3424 / 4096;
const PQ_C2 = (2413 / 4096) * 32;
const PQ_C3 = (2392 / 4096) * 32;

/**
 * Linear light (0..1) to encoded value (0..1).
 * Sources: BT.709-6 OETF; IEC 61966-2-1 (sRGB); BT.2100-2 HLG OETF and inverse PQ EOTF (1 = 10000 cd/m2).
 */
export function encodeLight(light: number, transfer: Transfer): number {
  const l = Math.max(0, light);
  switch (transfer) {
    case 'linear':
      return l;
    case 'bt709':
      return l < BT709_BETA ? 4.5 * l : BT709_ALPHA * l ** 0.45 - (BT709_ALPHA - 1);
    case 'srgb':
      return l <= 0.0031308 ? 12.92 * l : 1.055 * l ** (1 / 2.4) - 0.055;
    case 'hlg':
      return l <= 1 / 12 ? Math.sqrt(3 * l) : HLG_A * Math.log(12 * l - HLG_B) + HLG_C;
    case 'pq': {
      const p = l ** PQ_M1;
      return ((PQ_C1 + PQ_C2 * p) / (1 + PQ_C3 * p)) ** PQ_M2;
    }
  }
}

/**
 * Encoded value (0..1) to linear light (0..1); the inverse of `encodeLight`. Values below 0 read as 0; values
 * above 1 (super-white code values of limited range) are continued, so that their order is kept.
 */
export function decodeLight(encoded: number, transfer: Transfer): number {
  const v = Math.max(0, encoded);
  switch (transfer) {
    case 'linear':
      return v;
    case 'bt709':
      return v < 4.5 * BT709_BETA ? v / 4.5 : ((v + BT709_ALPHA - 1) / BT709_ALPHA) ** (1 / 0.45);
    case 'srgb':
      return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
    case 'hlg':
      return v <= 0.5 ? (v * v) / 3 : (Math.exp((v - HLG_C) / HLG_A) + HLG_B) / 12;
    case 'pq': {
      const p = v ** (1 / PQ_M2);
      return (Math.max(p - PQ_C1, 0) / (PQ_C2 - PQ_C3 * p)) ** (1 / PQ_M1);
    }
  }
}

/** Code values of black and white for a bit depth (ITU-R BT.709-6 item 5.4; BT.2020-2 table 5; H.273). */
export function codeLimits(bitDepth: number, range: CodeRange): { black: number; white: number } {
  if (!Number.isInteger(bitDepth) || bitDepth < 8 || bitDepth > 16) {
    throw expected('bitDepth', 'a whole number from 8 to 16', bitDepth);
  }
  const scale = 2 ** (bitDepth - 8);
  return range === 'full'
    ? { black: 0, white: 2 ** bitDepth - 1 }
    : { black: 16 * scale, white: 235 * scale };
}

/** Luma code value (0..2^bitDepth-1) to the encoded value 0..1 (BT.709-6 item 5: (Y-16)/219 in 8 bit). */
export function normaliseLuma(code: number, bitDepth: number, range: CodeRange): number {
  const { black, white } = codeLimits(bitDepth, range);
  return (code - black) / (white - black);
}
