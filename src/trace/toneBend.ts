/**
 * A camera's tone curve beside the one that its clip is tagged with. Phones lift the shadows and roll off the lights before
 * they encode; what is left after the tagged curve is undone is about `(1 + b) v / (1 + b v)` of the sensor's light `v`, so
 * that the curve starts `1 + b` times as steep (the global operator of E. Reinhard et al., 2002, from memory).
 */

/** Light of the sensor (1 is white) from light `x` by the tagged curve; beyond white the curve goes on straight. */
export function straightLight(x: number, bend: number): number {
  return x > 1 ? 1 + (1 + bend) * (x - 1) : x / (1 + bend - bend * x);
}

/** Slope of `straightLight`. */
export function straightSlope(x: number, bend: number): number {
  return (1 + bend) / (1 + bend - bend * Math.min(1, x)) ** 2;
}
