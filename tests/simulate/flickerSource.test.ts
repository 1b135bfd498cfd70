import { describe, expect, it } from 'vitest';
import { type FlickerScene, flickerSource, meanFlicker } from '../../src/simulate/flickerSource.js';
import { randomFlicker } from '../../src/simulate/randomFlicker.js';
import { decodeLight, normaliseLuma } from '../../src/units.js';

const light = (change: Partial<FlickerScene['light']>): FlickerScene['light'] => ({
  rateHz: 1000,
  waveform: 'sine',
  duty: 0.4,
  phase: 0.13,
  depth: 0.7,
  meanLight: 0.3,
  ...change,
});

function still(scene: FlickerScene): FlickerScene {
  return {
    ...scene,
    camera: { ...scene.camera, readNoise: 0, shotNoise: 0, toneCurve: 'linear', bitDepth: 10, drift: null },
  };
}

describe('meanFlicker', () => {
  const bySteps = (l: FlickerScene['light'], fromS: number, toS: number) => {
    let sum = 0;
    const steps = 20_000;
    for (let i = 0; i < steps; i++) {
      const cycle = l.rateHz * (fromS + ((i + 0.5) / steps) * (toS - fromS)) + l.phase;
      const part = cycle - Math.floor(cycle);
      const now = l.waveform === 'sine' ? 1 + Math.sin(2 * Math.PI * cycle) : part < l.duty ? 1 / l.duty : 0;
      sum += 1 - l.depth + l.depth * now;
    }
    return sum / steps;
  };
  it.each([
    ['sine', 0, 0.0003],
    ['sine', 0.0017, 0.0047],
    ['square', 0, 0.0002],
    ['square', 0.00021, 0.00391],
  ] as const)('%s from %f to %f s: the sum over small steps', (waveform, fromS, toS) => {
    const l = light({ waveform });
    expect(meanFlicker(l, fromS, toS)).toBeCloseTo(bySteps(l, fromS, toS), 3);
  });
  it('an exposure of whole periods sees no flicker', () => {
    for (const waveform of ['sine', 'square'] as const)
      expect(meanFlicker(light({ waveform }), 0.0002, 0.0032)).toBeCloseTo(1, 12);
  });
});

describe('flickerSource', () => {
  it('rows open one after another in coded order, whatever the rotation', async () => {
    for (const rotationDeg of [0, 90] as const) {
      const drawn = still(randomFlicker(5));
      const scene: FlickerScene = {
        ...drawn,
        picture: { widthPx: 64, heightPx: 48, rotationDeg },
        camera: {
          ...drawn.camera,
          captureRateHz: 240,
          exposureFraction: 0.2,
          readoutFraction: 0.8,
          frames: 3,
        },
        light: light({ depth: 1, meanLight: 0.3 }),
        ambientLight: 0.1,
        vignette: 0,
      };
      const source = flickerSource(scene);
      const { codedHeight, range, bitDepth } = source.facts;
      expect(codedHeight).toBe(rotationDeg === 0 ? 48 : 64);
      await source.readRects([{ x: 3, y: 0, width: 1, height: codedHeight }], (index, [plane]) => {
        for (const row of [0, 11, codedHeight - 1]) {
          const openS = (index + (0.8 * row) / codedHeight) / 240;
          const want = 0.1 + 0.3 * meanFlicker(scene.light, openS, openS + 0.2 / 240);
          const seen = decodeLight(normaliseLuma(plane![row]!, bitDepth, range), 'linear');
          expect(seen).toBeCloseTo(want, 2);
        }
      });
    }
  });
  it('gives the same pixels whatever is asked for, and gaps where frames are dropped', async () => {
    const drawn = randomFlicker(6);
    const scene = {
      ...drawn,
      camera: { ...drawn.camera, captureRateHz: 240, frames: 6, droppedFrames: [3], doubledFrames: [5] },
    };
    const source = flickerSource(scene);
    const pieces: number[][] = [];
    const times = await source.readRects(
      [
        { x: 0, y: 0, width: 9, height: 7 },
        { x: 4, y: 5, width: 2, height: 2 },
      ],
      (_, [large, small]) => {
        expect(small![3]).toBe(large![6 * 9 + 5]);
        pieces.push([...large!]);
      },
    );
    expect([...times.ptsTicks]).toEqual([0, 375, 750, 1500, 1875]);
    expect(pieces[4]).toEqual(pieces[3]);
    expect(pieces[1]).not.toEqual(pieces[0]);
  });
});
