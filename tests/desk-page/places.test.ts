/** Addresses, zoom, labels and number series. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { labelLines, labelsOfLines } from '../../src/desk/page/logic/labels.js';
import { fragmentOf, routeOf, secretIn } from '../../src/desk/page/logic/route.js';
import { float32Of, float64Of, uint32Of } from '../../src/desk/page/logic/series.js';
import {
  MOST_ZOOM,
  panned,
  pictureShare,
  placement,
  WHOLE_PICTURE,
  zoomed,
} from '../../src/desk/page/logic/zoom.js';

describe('route', () => {
  it('every place comes back from its address', () => {
    fc.assert(
      fc.property(
        fc.string({ minLength: 1 }),
        fc.option(fc.integer({ min: 0, max: 999_999 })),
        (clip, press) => {
          for (const view of ['presses', 'numbers'] as const) {
            expect(routeOf(fragmentOf({ view, clip, press }))).toEqual({ view, clip, press });
          }
          const route = { view: 'clip', clip, press: null } as const;
          expect(routeOf(fragmentOf(route))).toEqual(route);
          expect(secretIn(fragmentOf(route))).toBeNull();
        },
      ),
    );
    expect(routeOf('#/compare')).toEqual({ view: 'compare' });
    expect(routeOf('')).toEqual({ view: 'folder' });
    expect(routeOf('#/clip/%')).toEqual({ view: 'folder' });
  });
  it('a secret is no place', () => {
    expect(secretIn('#abcDEF0123456789-_')).toBe('abcDEF0123456789-_');
    expect(secretIn('#/clip/abcdefghijklmnopqrst')).toBeNull();
    expect(secretIn('#short')).toBeNull();
  });
});

describe('zoom', () => {
  const share = fc.double({ min: 0, max: 1, noNaN: true });
  it('never shows anything beside the picture, and keeps the point under the pointer where it can', () => {
    fc.assert(
      fc.property(share, share, fc.double({ min: 0.1, max: 40, noNaN: true }), share, (x, y, factor, by) => {
        const view = panned(zoomed(WHOLE_PICTURE, factor, x, y), by - 0.5, 0.5 - by);
        const { left, top, size } = placement(view);
        for (const start of [left, top]) {
          expect(start).toBeLessThanOrEqual(1e-12);
          expect(start + size).toBeGreaterThanOrEqual(1 - 1e-12);
        }
        expect(size).toBeLessThanOrEqual(MOST_ZOOM);
      }),
    );
    const view = zoomed(WHOLE_PICTURE, 4, 0.3, 0.6);
    const seen = pictureShare(view, 0.3, 0.6);
    expect([seen.x, seen.y]).toEqual([expect.closeTo(0.3, 12), expect.closeTo(0.6, 12)]);
  });
});

describe('labels and series', () => {
  it('labels come back from their lines; a line that is none is named', () => {
    const labels = { chain: 'Alder', mode: 'flash: test' };
    expect(labelsOfLines(labelLines(labels))).toEqual({ labels });
    expect(labelsOfLines('\n chain :  Birch \n\n')).toEqual({ labels: { chain: 'Birch' } });
    expect(labelsOfLines('Alder')).toEqual({ fault: '"Alder" is not "name: value".' });
  });
  it('numbers come back from base64', () => {
    const of = (view: ArrayBufferView): string =>
      Buffer.from(view.buffer, view.byteOffset, view.byteLength).toString('base64');
    expect([...float64Of(of(Float64Array.of(0.1, -2, 3e9)))]).toEqual([0.1, -2, 3e9]);
    expect([...float32Of(of(Float32Array.of(0.5, 1)))]).toEqual([0.5, 1]);
    expect([...uint32Of(of(Uint32Array.of(0, 4e9)))]).toEqual([0, 4e9]);
  });
});
