import { describe, expect, it } from 'vitest';
import { fitScanout } from '../../src/latency/scanout.js';
import { videoMode, videoTiming } from '../../src/numeric/videoTiming.js';

const waits = [3.1, 12.4, 7.7, 0.4, 15.9];

function regions(slopeMsPerPx: number) {
  return [100, 400, 700].map((middlePx) => ({
    name: `at ${middlePx}`,
    middlePx,
    latenciesMs: waits.map((wait) => 50 + wait + slopeMsPerPx * middlePx),
  }));
}

describe('scanout', () => {
  it('gives the slope of a 1080p60 scan whatever the wait (CTA-861 line count: 1080 of 1125 lines in 1/60 s)', () => {
    const { activeMs } = videoTiming(videoMode('1080p60')!);
    const fit = fitScanout(regions(activeMs / 1080), 0);
    expect(fit?.direction).toBe('down');
    expect(fit?.msPerPx).toBeCloseTo(16 / 1080, 9);
    expect(fit?.topToBottomMs).toBeCloseTo((600 * 16) / 1080, 6);
  });

  it('tells upwards and at once', () => {
    expect(fitScanout(regions(-0.01), 0)?.direction).toBe('up');
    expect(fitScanout(regions(0), 0)?.direction).toBe('at-once');
    // A slope within what the unknown readout could do is not claimed.
    expect(fitScanout(regions(0.004), 0.003)?.direction).toBe('at-once');
  });

  it('says nothing from one region, one height, or two presses', () => {
    expect(fitScanout(regions(0.01).slice(0, 1), 0)).toBeNull();
    expect(fitScanout([regions(0.01)[0]!, regions(0.01)[0]!], 0)).toBeNull();
    const few = regions(0.01).map((r) => ({ ...r, latenciesMs: r.latenciesMs.slice(0, 2) }));
    expect(fitScanout(few, 0)).toBeNull();
  });

  it('leaves out presses that only one region answered', () => {
    const holes = regions(0.01).map((r, i) => ({
      ...r,
      latenciesMs: r.latenciesMs.map((v, k) => (k === 0 && i > 0 ? null : v)),
    }));
    expect(fitScanout(holes, 0)?.presses).toBe(4);
  });
});
