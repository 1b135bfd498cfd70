/** A fingerprint of a scene: SHA-256 (FIPS 180-4) of its JSON, in plain arithmetic, so that it runs in a browser too. */
import type { Scene } from './scene.js';

/** The first 32 fractional bits of the roots of the first primes (FIPS 180-4, 4.2.2 and 5.3.3), by calculation. */
function fractionalBits(count: number, exponent: number): Uint32Array {
  const out = new Uint32Array(count);
  let found = 0;
  for (let n = 2; found < count; n++) {
    let prime = true;
    for (let d = 2; d * d <= n; d++) if (n % d === 0) prime = false;
    if (prime) {
      const root = n ** exponent;
      out[found++] = (root - Math.floor(root)) * 4294967296;
    }
  }
  return out;
}

/** SHA-256 of bytes, 64 lower-case hex digits. */
export function sha256Hex(bytes: Uint8Array): string {
  const constants = fractionalBits(64, 1 / 3);
  const state = fractionalBits(8, 1 / 2);
  const padded = new Uint8Array(64 * Math.ceil((bytes.length + 9) / 64));
  padded.set(bytes);
  padded[bytes.length] = 0x80;
  const words = new DataView(padded.buffer);
  words.setUint32(padded.length - 8, Math.floor(bytes.length / 0x20000000));
  words.setUint32(padded.length - 4, (bytes.length << 3) >>> 0);
  const w = new Int32Array(64);
  const turn = (x: number, n: number): number => (x >>> n) | (x << (32 - n));
  for (let block = 0; block < padded.length; block += 64) {
    for (let i = 0; i < 16; i++) w[i] = words.getInt32(block + 4 * i);
    for (let i = 16; i < 64; i++) {
      const a = w[i - 15]!;
      const b = w[i - 2]!;
      const s0 = turn(a, 7) ^ turn(a, 18) ^ (a >>> 3);
      const s1 = turn(b, 17) ^ turn(b, 19) ^ (b >>> 10);
      w[i] = w[i - 16]! + s0 + w[i - 7]! + s1;
    }
    let [a, b, c, d, e, f, g, h] = state as unknown as [
      number,
      number,
      number,
      number,
      number,
      number,
      number,
      number,
    ];
    for (let i = 0; i < 64; i++) {
      const choice = (e & f) ^ (~e & g);
      const t1 = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + choice + constants[i]! + w[i]!) | 0;
      const majority = (a & b) ^ (a & c) ^ (b & c);
      const t2 = ((turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + majority) | 0;
      h = g;
      g = f;
      f = e;
      e = (d + t1) | 0;
      d = c;
      c = b;
      b = a;
      a = (t1 + t2) | 0;
    }
    [a, b, c, d, e, f, g, h].forEach((value, i) => {
      state[i] = state[i]! + value;
    });
  }
  return [...state].map((word) => word.toString(16).padStart(8, '0')).join('');
}

/** Fingerprint of a scene: 64 lower-case hex digits. */
export function sceneHash(scene: Scene): string {
  return sha256Hex(new TextEncoder().encode(JSON.stringify(scene)));
}
