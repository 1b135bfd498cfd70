import { describe, expect, it } from 'vitest';
import { type CalibrationRequest, calibrateClip } from '../../src/calibrate/calibrateClip.js';
import { type FlickerScene, flickerSource } from '../../src/simulate/flickerSource.js';
import { randomFlicker } from '../../src/simulate/randomFlicker.js';

type Change = { camera?: Partial<FlickerScene['camera']>; light?: Partial<FlickerScene['light']> } & Partial<
  Pick<FlickerScene, 'picture' | 'ambientLight' | 'vignette'>
>;

/** A plain clip: 1 kHz, 239.9 Hz, two seconds, 160 x 90. */
function clip({ camera, light, ...rest }: Change = {}): FlickerScene {
  const drawn = randomFlicker(1);
  return {
    ...drawn,
    picture: { widthPx: 160, heightPx: 90, rotationDeg: 0 },
    ambientLight: 0.05,
    vignette: 0.3,
    ...rest,
    camera: {
      ...drawn.camera,
      captureRateHz: 239.9,
      frames: 480,
      exposureFraction: 0.3,
      readoutFraction: 0.7,
      readNoise: 0.015,
      shotNoise: 0.01,
      toneCurve: 'bt709',
      drift: null,
      droppedFrames: [],
      ...camera,
    },
    light: {
      rateHz: 1000,
      waveform: 'square',
      duty: 0.5,
      phase: 0.2,
      depth: 0.9,
      meanLight: 0.3,
      ...light,
    },
  };
}

const calibrate = (scene: FlickerScene, request: Partial<CalibrationRequest> = {}) =>
  calibrateClip(flickerSource(scene), { lightHz: scene.light.rateHz, ...request });

describe('calibrateClip finds readout and rate', () => {
  it.each<[string, Change]>([
    ['a landscape clip', {}],
    [
      'a portrait clip: coded rows, not those of the upright picture',
      { picture: { widthPx: 90, heightPx: 160, rotationDeg: 90 } },
    ],
    ['upside down', { picture: { widthPx: 160, heightPx: 90, rotationDeg: 180 } }],
    ['with frames missing', { camera: { droppedFrames: [50, 51, 300] } }],
    ['a phone’s own tone curve', { camera: { toneCurve: 'phone' } }],
    ['mains, sine', { light: { rateHz: 100, waveform: 'sine' }, camera: { exposureFraction: 0.9 } }],
  ])('%s', async (_, change) => {
    const scene = clip(change);
    const found = await calibrate(scene, { lightUncertaintyRel: 0 });
    const truthMs = 700 / 239.9;
    expect(Math.abs(found.readoutMs.value / truthMs - 1)).toBeLessThan(0.01);
    expect(Math.abs(found.captureRateHz.value / 239.9 - 1)).toBeLessThan(5e-5);
    expect(Math.abs(found.readoutMs.value - truthMs)).toBeLessThan(4 * found.readoutMs.sd);
    expect(found.readoutFraction.value).toBeCloseTo(
      (found.readoutMs.value * found.captureRateHz.value) / 1000,
      9,
    );
  });

  it('the light’s own frequency is part of the uncertainty; mains is worth 577 ppm', async () => {
    const scene = clip({ light: { rateHz: 100, waveform: 'sine' } });
    const mains = await calibrate(scene);
    expect(mains.captureRateHz.sd / mains.captureRateHz.value).toBeCloseTo(577e-6, 5);
    const known = await calibrate(scene, { lightUncertaintyRel: 2e-4 });
    expect(known.captureRateHz.sd / known.captureRateHz.value).toBeCloseTo(2e-4, 5);
  });

  it('slow motion without a tag: the light alone names the rate, and what was at hand is reported', async () => {
    const scene = clip({ camera: { storedRateHz: 30 }, light: { rateHz: 1310 } });
    const found = await calibrate(scene);
    expect(found.captureRateHz.value).toBeCloseTo(239.9, 1);
    expect(found.rates).toMatchObject({ tagHz: null, statedHz: null });
    expect(found.rates.timestampsHz).toBeCloseTo(30, 3);
    expect(found.warnings.join(' ')).toContain('By the light');
  });

  it('a light that contradicts the tag wins, with a warning that names both', async () => {
    const drawn = clip({ camera: { storedRateHz: 30, captureTag: true }, light: { rateHz: 1310 } });
    const honest = flickerSource(drawn);
    const lying = { ...honest, facts: { ...honest.facts, captureRateTagHz: 120 } };
    const found = await calibrateClip(lying, { lightHz: 1310 });
    expect(found.captureRateHz.value).toBeCloseTo(239.9, 1);
    expect(found.warnings.join(' ')).toMatch(/239\.9.* not 120 as declared/);
  });

  it('a part of the rows is enough', async () => {
    const region = { name: 'lamp', role: 'reference', x: 20, y: 20, width: 60, height: 50 } as const;
    const found = await calibrate(clip(), { region });
    expect(found.codedRect).toEqual({ x: 20, y: 20, width: 60, height: 50 });
    expect(Math.abs((found.readoutMs.value * 239.9) / 700 - 1)).toBeLessThan(0.01);
  });
});

describe('calibrateClip says when it cannot, and why', () => {
  const nothing = (what: RegExp) => ({ code: 'nothing-measurable', message: expect.stringMatching(what) });
  it.each<[string, Change, RegExp]>([
    [
      'an exposure of one period',
      { camera: { exposureFraction: 0.2399 } },
      /whole number of its periods hides it/,
    ],
    ['hardly any modulation', { light: { depth: 0.002 } }, /no flicker of 1000 Hz/],
    ['saturation', { light: { meanLight: 4 } }, /clipped white/],
    ['a clip too short', { camera: { frames: 40 } }, /too few/],
    ['fewer than 8 periods', { camera: { frames: 100 }, light: { rateHz: 10 } }, /fewer than 8 periods/],
    ['a light that stands still', { camera: { captureRateHz: 250 } }, /stands still/],
    ['half the capture rate', { camera: { captureRateHz: 240 }, light: { rateHz: 120 } }, /alternates/],
    [
      'too slow a light for the readout',
      { light: { rateHz: 10, waveform: 'square' } },
      /too little about the readout/,
    ],
  ])('%s', async (_, change, what) => {
    await expect(calibrate(clip(change))).rejects.toMatchObject(nothing(what));
  });
  it('another frequency than the one stated', async () => {
    const scene = clip({ light: { rateHz: 110, waveform: 'sine' } });
    await expect(calibrate(scene, { lightHz: 100 })).rejects.toMatchObject(nothing(/check --light/));
  });
  it('frames missing where the timestamps do not tell', async () => {
    const honest = flickerSource(clip({ camera: { droppedFrames: [240] } }));
    const hidden: typeof honest = {
      ...honest,
      readRects: async (...args) => {
        const times = await honest.readRects(...args);
        return { ...times, ptsTicks: times.ptsTicks.map((_, i) => 375 * i) };
      },
    };
    await expect(calibrateClip(hidden, { lightHz: 1000 })).rejects.toMatchObject(nothing(/jumps or wanders/));
  });
  it('a wrong request', async () => {
    await expect(calibrate(clip(), { lightHz: 0 })).rejects.toThrow('lightHz');
    const region = { name: 'lamp', role: 'reference', x: 0, y: 0, width: 160, height: 8 } as const;
    await expect(calibrate(clip(), { region })).rejects.toThrow('an eighth of the rows');
  });
  it('stops when asked', async () => {
    const source = flickerSource(clip());
    await expect(
      calibrateClip(source, { lightHz: 1000 }, { signal: AbortSignal.abort(new Error('enough')) }),
    ).rejects.toThrow('enough');
  });
});
