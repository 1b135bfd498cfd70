/**
 * SHA-256 of text, for the hash that lets a content security policy admit the report's one style sheet. Written
 * out here because the report must also be made where Node's crypto is not at hand.
 */

const PRIMES_64 = ((): number[] => {
  const primes: number[] = [];
  for (let n = 2; primes.length < 64; n++) if (primes.every((p) => n % p !== 0)) primes.push(n);
  return primes;
})();

// FIPS 180-4 4.2.2 and 5.3.3: the first 32 bits of the fractional parts of roots of the first primes.
const fractionBits = (x: number): number => Math.floor((x - Math.floor(x)) * 2 ** 32) | 0;
const ROUND_CONSTANTS = PRIMES_64.map((p) => fractionBits(Math.cbrt(p)));
const INITIAL_HASH = PRIMES_64.slice(0, 8).map((p) => fractionBits(Math.sqrt(p)));

const turn = (x: number, n: number): number => (x >>> n) | (x << (32 - n));

function compress(hash: Int32Array, block: DataView, at: number): void {
  const w = new Int32Array(64);
  for (let t = 0; t < 16; t++) w[t] = block.getInt32(at + 4 * t);
  for (let t = 16; t < 64; t++) {
    const w15 = w[t - 15]!;
    const w2 = w[t - 2]!;
    const s0 = turn(w15, 7) ^ turn(w15, 18) ^ (w15 >>> 3);
    const s1 = turn(w2, 17) ^ turn(w2, 19) ^ (w2 >>> 10);
    w[t] = (w[t - 16]! + s0 + w[t - 7]! + s1) | 0;
  }
  let [a, b, c, d, e, f, g, h] = hash as unknown as [
    number,
    number,
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  for (let t = 0; t < 64; t++) {
    const big1 = turn(e, 6) ^ turn(e, 11) ^ turn(e, 25);
    const t1 = (h + big1 + ((e & f) ^ (~e & g)) + ROUND_CONSTANTS[t]! + w[t]!) | 0;
    const big0 = turn(a, 2) ^ turn(a, 13) ^ turn(a, 22);
    const t2 = (big0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
    [h, g, f, e, d, c, b, a] = [g, f, e, (d + t1) | 0, c, b, a, (t1 + t2) | 0];
  }
  for (const [i, v] of [a, b, c, d, e, f, g, h].entries()) hash[i] = (hash[i]! + v) | 0;
}

/** The 32 bytes of SHA-256 over the text's UTF-8 bytes (FIPS 180-4 section 6.2). */
export function sha256(text: string): Uint8Array {
  const message = new TextEncoder().encode(text);
  const length = Math.ceil((message.length + 9) / 64) * 64;
  const padded = new Uint8Array(length);
  padded.set(message);
  padded[message.length] = 0x80;
  const view = new DataView(padded.buffer);
  view.setUint32(length - 8, Math.floor(message.length / 2 ** 29));
  view.setUint32(length - 4, (message.length * 8) >>> 0);
  const hash = Int32Array.from(INITIAL_HASH);
  for (let at = 0; at < length; at += 64) compress(hash, view, at);
  const out = new DataView(new ArrayBuffer(32));
  for (let i = 0; i < 8; i++) out.setInt32(4 * i, hash[i]!);
  return new Uint8Array(out.buffer);
}

/** A source expression for a content security policy (CSP level 3, 2.3.1): `sha256-...` in base64, without quotes. */
export function cspHash(text: string): string {
  return `sha256-${btoa(String.fromCharCode(...sha256(text)))}`;
}
