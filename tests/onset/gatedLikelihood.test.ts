/** A gate that is always open is no gate: both likelihoods then say the same. */
import { describe, expect, it } from 'vitest';
import { blurShape, fitEdge } from '../../src/onset/edgeFit.js';
import { responseAt } from '../../src/onset/edgeShape.js';
import { gateOpenings } from '../../src/onset/gate.js';

const shape = { tauT: 0.8, sweepT: 0.3 };
const exposure = 0.7;
const variance = 1e-4;

/** Mean response over the open part of an exposure, by a plain sum. */
function light(openT: number, t0: number, openings: Float64Array): { f0: number; f1: number } {
  let f0 = 0;
  let f1 = 0;
  for (let i = 0; i < openings.length; i += 2) {
    const [a, b] = [openings[i]!, openings[i + 1]!];
    const n = 400;
    for (let j = 0; j < n; j++) {
      const r = responseAt(openT + a + ((j + 0.5) / n) * (b - a) - t0, shape);
      f1 += (r * (b - a)) / n;
      f0 += ((1 - r) * (b - a)) / n;
    }
  }
  return { f0, f1 };
}

function windowOf(t0: number, openingsOf: (openT: number) => Float64Array) {
  const openT = Float64Array.from({ length: 40 }, (_, k) => k - 20);
  const openings = [...openT].map(openingsOf);
  const values = Float64Array.from(openT, (t, k) => {
    const { f0, f1 } = light(t, t0, openings[k]!);
    return 0.2 * f0 + 1.1 * f1 + 0.003 * Math.sin(7 * k * k);
  });
  return { openT, openings, values };
}

const channel = (w: ReturnType<typeof windowOf>, gated: boolean) => ({
  values: w.values,
  openT: w.openT,
  varianceBefore: variance,
  varianceAfter: variance,
  from: 0,
  extent: 1,
  ...(gated ? { openings: w.openings } : {}),
});

describe('likelihood through a gate', () => {
  it('always open: the onset of the plain fit', () => {
    const w = windowOf(-0.83, () => Float64Array.of(0, exposure));
    const window = { firstFrame: 0, originS: 0 };
    const blurred = blurShape(shape, exposure);
    const plain = fitEdge({ ...window, channels: [channel(w, false)], reachT: 2 }, blurred, 0.01)!;
    const gated = fitEdge({ ...window, channels: [channel(w, true)], reachT: 2 }, blurred, 0.01)!;
    expect(gated.meanT).toBeCloseTo(plain.meanT, 2);
    expect(gated.meanT).toBeCloseTo(-0.83, 1);
  });
  it.each([-1.4, -0.6, 0.1])('through a dimmer: first light at %d', (t0) => {
    const gate = { startT: 0.1, periodT: 0.9, duty: 0.35, exposure, exposureSd: 0, residual: 0, startSdT: 0 };
    const w = windowOf(t0, (openT) => gateOpenings(gate, openT));
    const window = { firstFrame: 0, originS: 0, channels: [channel(w, true)], reachT: 3 };
    const found = fitEdge(window, blurShape(shape, exposure), 0.01)!;
    expect(Math.abs(found.meanT - t0)).toBeLessThan(Math.max(0.06, 3 * found.sdT));
    expect(found.sdT).toBeLessThan(0.2);
  });
  it('nothing lit around the change: the answer is as wide as the dark', () => {
    const dark = (openT: number) => (Math.abs(openT) < 6 ? new Float64Array() : Float64Array.of(0, exposure));
    const w = windowOf(0, dark);
    const window = { firstFrame: 0, originS: 0, channels: [channel(w, true)], reachT: 9 };
    expect(fitEdge(window, blurShape(shape, exposure), 0.01)!.sdT).toBeGreaterThan(2);
  });
});
