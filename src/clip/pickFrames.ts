/** Arrays that hold the same number of values for every frame, cut down to the frames that count. */

/**
 * Takes the chosen frames out of such an array.
 * @param perFrame values frame after frame.
 * @param frames number of frames in it.
 * @param used indices of the frames to keep, ascending.
 */
export function pickFrames<A extends Uint16Array | Float32Array>(
  perFrame: A,
  frames: number,
  used: Uint32Array,
): A {
  const each = frames > 0 ? perFrame.length / frames : 0;
  const picked = perFrame.slice(0, used.length * each) as A;
  used.forEach((k, i) => {
    picked.set(perFrame.subarray(k * each, (k + 1) * each), i * each);
  });
  return picked;
}
