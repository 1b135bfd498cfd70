import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  labelOption,
  numberOption,
  outputOption,
  overlayOptions,
  recipePathOf,
  regionOption,
  scanOption,
  sizeOption,
  windowOption,
} from '../../src/cli/options.js';
import { emptyRecipe } from '../../src/record/parseRecipe.js';

describe('numbers', () => {
  const rate = numberOption('--refresh', 1, 1000);
  it.each([
    ['60', 60],
    ['59.94', 59.94],
    ['1', 1],
    ['1000', 1000],
    ['6e1', 60],
  ])('take %s', (text, value) => {
    expect(rate(text)).toBe(value);
  });
  it.each(['', ' ', 'fast', '0', '1001', '-60', 'NaN', 'Infinity', '60Hz', '60,5'])('refuse "%s"', (text) => {
    expect(() => rate(text)).toThrow(`--refresh must be a number from 1 to 1000, got "${text}"`);
  });
});

describe('regions', () => {
  it('are collected in order', () => {
    const led = regionOption('led=led:40,300,24,25');
    expect(regionOption('top left=screen:0,1,2,3', led)).toEqual([
      { name: 'led', role: 'led', x: 40, y: 300, width: 24, height: 25 },
      { name: 'top left', role: 'screen', x: 0, y: 1, width: 2, height: 3 },
    ]);
  });
  it.each([
    '',
    'led',
    'led:1,2,3,4',
    'led=lamp:1,2,3,4',
    'led=led:1,2,3',
    'led=led:-1,2,3,4',
    'led=led:1.5,2,3,4',
    '=led:1,2,3,4',
    'a=led:1,2,3,4,5',
  ])('refuse "%s"', (text) => {
    expect(() => regionOption(text)).toThrow(/name=role:x,y,width,height/);
  });
});

describe('labels, windows, sizes, outputs', () => {
  it('labels are collected, and the later one counts', () => {
    expect(labelOption('chain=Cedar', labelOption('mode=a=b', { chain: 'Birch' }))).toEqual({
      chain: 'Cedar',
      mode: 'a=b',
    });
    expect(() => labelOption('=Birch')).toThrow(/key=value/);
    expect(() => labelOption('Birch')).toThrow(/key=value/);
  });

  it('windows', () => {
    expect(windowOption('0:500')).toEqual([0, 500]);
    expect(windowOption('-10.5:80')).toEqual([-10.5, 80]);
    for (const text of ['', ':', '0:', ':500', '500:0', '5:5', '0:1:2', 'a:b', '0-500']) {
      expect(() => windowOption(text), text).toThrow(/from:to in ms/);
    }
  });

  it('sizes', () => {
    expect(sizeOption('480x270')).toEqual([480, 270]);
    for (const text of ['480', '481x270', '480x271', '480*270', 'x', '-2x4']) {
      expect(() => sizeOption(text), text).toThrow(/even px/);
    }
  });

  it('outputs', () => {
    expect(outputOption('out/demo.mp4')).toBe('out/demo.mp4');
    for (const text of ['demo', 'demo.mov', '.mp4', 'out/.mp4', 'demo.mp4/']) {
      expect(() => outputOption(text), text).toThrow(/NAME\.mp4/);
    }
  });

  it('never throw anything but a refusal, whatever the text', () => {
    fc.assert(
      fc.property(fc.string(), (text) => {
        for (const parse of [
          numberOption('--n', 0, 1),
          regionOption,
          labelOption,
          windowOption,
          sizeOption,
          outputOption,
        ]) {
          try {
            parse(text);
          } catch (error) {
            expect((error as { code?: string }).code).toBe('commander.invalidArgument');
          }
        }
      }),
    );
  });
});

describe('overlayOptions', () => {
  const led = { name: 'led', role: 'led', x: 1, y: 1, width: 9, height: 9 } as const;
  const top = { ...led, name: 'top', role: 'screen' } as const;
  const recipe = {
    ...emptyRecipe({ file: 'a.mp4', sha256: '', bytes: 0 }),
    regions: [led, top],
    labels: { chain: 'Alder', mode: 'x' },
    display: { refreshHz: 50 },
    decisions: [{ pressAtS: 1, decision: 'exclude', reason: 'two buttons' }] as const,
  };

  it('changes nothing where nothing is said', () => {
    expect(overlayOptions(recipe, {})).toEqual(recipe);
  });

  it('puts what is said over the recipe, and keeps the rest', () => {
    const over = overlayOptions(recipe, {
      refresh: 60,
      captureRate: 240,
      exposure: 0.5,
      readout: 0,
      level: 0.5,
      window: [1, 2],
      edge: 'release',
      label: { chain: 'Birch' },
    });
    expect(over).toEqual({
      ...recipe,
      labels: { chain: 'Birch', mode: 'x' },
      display: { refreshHz: 60 },
      capture: { rateHz: 240, exposureFraction: 0.5, readoutFraction: 0 },
      cue: { ...recipe.cue, edge: 'release' },
      response: { level: 0.5, windowMs: [1, 2] },
    });
  });

  it('keeps the display’s scan, and lays another over it', () => {
    const scan = scanOption('80:640:1080p60');
    expect(scan).toEqual({ topPx: 80, bottomPx: 640, mode: '1080p60' });
    const over = overlayOptions(recipe, { scan });
    expect(over.display).toEqual({ refreshHz: 50, scan });
    expect(overlayOptions(over, { refresh: 60 }).display).toEqual({ refreshHz: 60, scan });
    expect(overlayOptions(over, { scan: scanOption('8:64') }).display.scan).toEqual({
      topPx: 8,
      bottomPx: 64,
    });
    for (const text of ['640:80', '80', '8:64:', '8:64:1080q', '-1:5']) {
      expect(() => scanOption(text)).toThrow(/got "/);
    }
  });

  it('replaces a region of the same name, and the one LED by another', () => {
    const moved = { ...top, x: 5 };
    expect(overlayOptions(recipe, { region: [moved] }).regions).toEqual([led, moved]);
    const lamp = { ...led, name: 'button' };
    expect(overlayOptions(recipe, { region: [lamp] }).regions).toEqual([top, lamp]);
  });
});

describe('recipePathOf', () => {
  it('tells a path, none, and nothing said apart', () => {
    expect(recipePathOf({ recipe: 'a.json' })).toEqual({ recipePath: 'a.json' });
    expect(recipePathOf({ recipe: false })).toEqual({ recipePath: null });
    expect(recipePathOf({})).toEqual({});
    expect(recipePathOf({ recipe: true })).toEqual({});
  });
});
