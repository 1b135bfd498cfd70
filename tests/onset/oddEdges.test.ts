import { describe, expect, it } from 'vitest';
import { oddEdges } from '../../src/onset/oddEdges.js';
import type { Crossing } from '../../src/onset/windows.js';

const PERIOD_S = 1 / 240;

/** Eight edges, 40 frames apart, of a clean LED; `disturb` may change the signal. */
function edges(disturb: (signal: Float64Array) => void): { signal: Float64Array; crossings: Crossing[] } {
  const signal = new Float64Array(360);
  const crossings: Crossing[] = [];
  for (let i = 0; i < 8; i++) {
    const sign = i % 2 === 0 ? 1 : -1;
    crossings.push({ frame: 40 * (i + 1), sign });
  }
  for (let k = 0; k < signal.length; k++) signal[k] = Math.floor(k / 40) % 2 === 1 ? 1 : 0;
  disturb(signal);
  return { signal, crossings };
}

const odd = (disturb: (signal: Float64Array) => void) => {
  const { signal, crossings } = edges(disturb);
  return oddEdges(signal, { low: 0, high: 1 }, crossings, 12, PERIOD_S).odd.flatMap((o, i) => (o ? [i] : []));
};

describe('odd LED edges', () => {
  it('are none of a clean LED', () => {
    expect(odd(() => {})).toEqual([]);
  });

  it('a thumb that lies over the LED before it lights: the dark side is not dark', () => {
    expect(odd((s) => s.fill(0.4, 80 + 20, 120))).toContain(2);
  });

  it('a slow passage is no switching', () => {
    expect(
      odd((s) => {
        for (let k = 0; k < 16; k++) s[192 + k] = (k + 0.5) / 16;
      }),
    ).toContain(4);
  });

  it('half of the light only', () => {
    expect(odd((s) => s.fill(0.45, 120, 160))).toEqual([2, 3]);
  });

  it('a third of the light gone with the room as bright as before is a thumb, with the room dimmed as much it is the camera', () => {
    const raised = (disturb: (s: Float64Array) => void) => {
      const { signal, crossings } = edges((s) => {
        for (let k = 0; k < s.length; k++) s[k] = s[k]! + 0.1;
        disturb(s);
      });
      return oddEdges(signal, { low: 0.1, high: 1.1 }, crossings, 12, PERIOD_S).odd.flatMap((o, i) =>
        o ? [i] : [],
      );
    };
    expect(raised(() => {})).toEqual([]);
    expect(raised((s) => s.fill(0.75, 120, 160))).toEqual([2, 3]);
    expect(
      raised((s) => {
        for (let k = 101; k < 181; k++) s[k] = 0.7 * s[k]!;
      }),
    ).toEqual([]);
  });

  it('an exposure step by a third is no oddity', () => {
    expect(
      odd((s) => {
        for (let k = 181; k < s.length; k++) s[k] = 1.33 * s[k]!;
      }),
    ).toEqual([]);
  });

  it('edges that all take far longer than an LED are none', () => {
    const { signal, crossings } = edges((s) => {
      for (const [i, up] of [0, 1, 0, 1, 0, 1, 0, 1].entries()) {
        for (let k = -5; k < 5; k++) s[40 * (i + 1) + k] = up === 0 ? (k + 5.5) / 10 : (4.5 - k) / 10;
      }
    });
    const all = (periodS: number) =>
      oddEdges(signal, { low: 0, high: 1 }, crossings, 12, periodS).odd.every((o) => o);
    expect(all(1 / 240)).toBe(true);
    expect(all(1 / 960)).toBe(false);
  });

  it('a thumb that takes 32 ms to pass (40 ms at 120 fps) is told from an LED that takes 8 ms', () => {
    for (const rateHz of [120, 240, 480]) {
      const everyOdd = (tookS: number) => {
        const took = tookS * rateHz;
        const { signal, crossings } = edges((s) => {
          for (let i = 0; i < 8; i++) {
            // Frames of the ramp, one period of exposure each.
            for (let k = -12; k <= 12; k++) {
              const share = Math.min(1, Math.max(0, (k + 0.5 + took / 2) / took));
              s[40 * (i + 1) + k] = i % 2 === 0 ? share : 1 - share;
            }
          }
        });
        return oddEdges(signal, { low: 0, high: 1 }, crossings, 12, 1 / rateHz).odd.every((o) => o);
      };
      expect(everyOdd(0.008), `${rateHz} fps`).toBe(false);
      expect(everyOdd(rateHz < 200 ? 0.04 : 0.032), `${rateHz} fps`).toBe(true);
    }
  });

  it('a thumb that takes 17 ms to pass over a small light is told from an LED at 480 fps', () => {
    const took = 0.017 * 480;
    const { signal, crossings } = edges((s) => {
      for (let i = 0; i < 8; i++) {
        for (let k = -6; k <= 6; k++) {
          const share = Math.min(1, Math.max(0, (k + 0.5 + took / 2) / took));
          s[40 * (i + 1) + k] = i % 2 === 0 ? share : 1 - share;
        }
      }
    });
    expect(oddEdges(signal, { low: 0, high: 1 }, crossings, 12, 1 / 480).odd).not.toContain(false);
  });

  it('an LED that is dimmed by pulses shows in the unrest of all plateaus', () => {
    const { signal, crossings } = edges((s) => {
      for (let k = 0; k < s.length; k++) s[k] = s[k]! * (k % 3 === 0 ? 0.4 : 1);
    });
    expect(oddEdges(signal, { low: 0, high: 1 }, crossings, 12, PERIOD_S).usualUnrest).toBeCloseTo(0.6, 6);
    const steady = edges(() => {});
    expect(oddEdges(steady.signal, { low: 0, high: 1 }, steady.crossings, 12, PERIOD_S).usualUnrest).toBe(0);
  });

  it('four edges have no usual one', () => {
    const { signal, crossings } = edges((s) => s.fill(0.45, 120, 160));
    expect(oddEdges(signal, { low: 0, high: 1 }, crossings.slice(0, 4), 12, PERIOD_S).odd).toEqual([
      false,
      false,
      false,
      false,
    ]);
  });
});
