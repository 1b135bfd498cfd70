/** From light to code values: noise, saturation, tone curve, quantisation. */
import type { LumaPlane } from '../clip/frameSource.js';
import { codeLimits, encodeLight } from '../units.js';
import { hashWords, normalTable } from './random.js';
import type { SceneCamera, ToneCurve } from './scene.js';

/** How much steeper than BT.709 the phone's curve starts: (1 + k) times. */
const PHONE_KNEE = 1;

/**
 * Sensor value (0..1) to encoded value (0..1). `phone` lifts the shadows and bends the lights before BT.709:
 * E709((1 + k) v / (1 + k v)) with k = 1, a stand-in for the unpublished curves of phones.
 */
export function toneEncode(sensorValue: number, curve: ToneCurve): number {
  if (curve !== 'phone') return encodeLight(sensorValue, curve);
  return encodeLight(((1 + PHONE_KNEE) * sensorValue) / (1 + PHONE_KNEE * sensorValue), 'bt709');
}

/** Turns one row of sensor values into code values. */
export type DevelopRow = (
  /** Sensor values without noise; 1 is white. */
  values: Float32Array,
  count: number,
  /** Identity of the row's noise: capture index of the picture and coded row. */
  pictureIndex: number,
  codedRow: number,
  /** Coded column of each value. */
  columns: Int32Array,
  firstColumn: number,
  out: LumaPlane,
  outOffset: number,
) => void;

/** The sensor of a camera; `noiseScale` is 1 for single pixels, 1/sqrt(n) for means of n. */
export function sensor(camera: SceneCamera, seed: number, noiseScale: number): DevelopRow {
  const steps = camera.bitDepth === 8 ? 32768 : 262144;
  const top = steps - 1;
  const { black, white } = codeLimits(camera.bitDepth, camera.range);
  const code = camera.bitDepth === 8 ? new Uint8Array(steps) : new Uint16Array(steps);
  for (let i = 0; i < steps; i++) {
    code[i] = Math.round(black + (white - black) * toneEncode(i / top, camera.toneCurve));
  }
  const readVariance = (camera.readNoise * noiseScale) ** 2;
  const shotVariance = (camera.shotNoise * noiseScale) ** 2;
  const noisy = readVariance > 0 || shotVariance > 0;
  const normal = noisy ? normalTable() : new Float32Array(0);
  return (values, count, pictureIndex, codedRow, columns, firstColumn, out, outOffset) => {
    const key = hashWords(seed, pictureIndex, codedRow) | 0;
    for (let i = 0; i < count; i++) {
      let value = values[i]!;
      if (noisy) {
        let h = (key + Math.imul(columns[firstColumn + i]!, 0x9e3779b9)) | 0;
        h = Math.imul(h ^ (h >>> 16), 0x85ebca6b);
        h = Math.imul(h ^ (h >>> 13), 0xc2b2ae35);
        value += Math.sqrt(readVariance + shotVariance * value) * normal[(h ^ (h >>> 16)) >>> 20]!;
      }
      const index = (value * top + 0.5) | 0;
      out[outOffset + i] = code[index < 0 ? 0 : Math.min(index, top)]!;
    }
  };
}
