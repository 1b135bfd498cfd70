/** Number series as they travel: base64 of little-endian numbers. */

function bytesOf(base64: string): ArrayBuffer {
  const text = atob(base64);
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  return bytes.buffer;
}

/** float64 numbers. */
export function float64Of(base64: string): Float64Array {
  return new Float64Array(bytesOf(base64));
}

/** float32 numbers. */
export function float32Of(base64: string): Float32Array {
  return new Float32Array(bytesOf(base64));
}

/** uint32 numbers. */
export function uint32Of(base64: string): Uint32Array {
  return new Uint32Array(bytesOf(base64));
}
