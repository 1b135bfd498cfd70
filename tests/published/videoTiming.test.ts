import { expect, test } from 'vitest';
import { scanoutDelayMs, videoMode, videoTiming } from '../../src/numeric/videoTiming.js';

// CTA-861 / VESA DMT totals as in the Linux header linux/v4l2-dv-timings.h; durations follow from them.
test.each([
  ['1080p60', 60, 14.81481, 16.6667, 16, 0.6667],
  ['1080p50', 50, 17.77778, 20, 19.2, 0.8],
  ['720p60', 60, 22.22222, 16.6667, 16, 0.6667],
  ['720p50', 50, 26.66667, 20, 19.2, 0.8],
  ['480p60', 59.9401, 31.77778, 16.6833, 15.2533, 1.43],
  ['576p50', 50, 32, 20, 18.432, 1.568],
  ['640x480p60', 59.9405, 31.77756, 16.6832, 15.2532, 1.43],
  ['2160p60', 60, 7.40741, 16.6667, 16, 0.6667],
])('%s', (name, fieldRateHz, lineUs, frameMs, activeMs, blankingMs) => {
  const mode = videoMode(name)!;
  const timing = videoTiming(mode);
  expect(mode.fieldRateHz).toBeCloseTo(fieldRateHz, 4);
  expect(timing.lineUs).toBeCloseTo(lineUs, 5);
  expect(timing.frameMs).toBeCloseTo(frameMs, 4);
  expect(timing.activeMs).toBeCloseTo(activeMs, 4);
  expect(timing.blankingMs).toBeCloseTo(blankingMs, 4);
  expect(scanoutDelayMs(mode, 0.5)).toBeCloseTo(activeMs / 2, 4);
});

// ITU-R BT.470 / SMPTE ST 170 (numbers of the standards from memory): 525/59.94 and 625/50.
test.each([
  ['480i60', 59.94006, 63.555556, 16.683333],
  ['576i50', 50, 64, 20],
  ['240p60', 60.054449, 63.555556, 16.6516],
  ['240p60-263', 59.826105, 63.555556, 16.7151],
  ['288p50', 50.080128, 64, 19.968],
  ['288p50-313', 49.920128, 64, 20.032],
])('%s scans at %f Hz', (name, fieldRateHz, lineUs, frameMs) => {
  const mode = videoMode(name)!;
  expect(mode.fieldRateHz).toBeCloseTo(fieldRateHz, 5);
  expect(videoTiming(mode).lineUs).toBeCloseTo(lineUs, 5);
  expect(videoTiming(mode).frameMs).toBeCloseTo(frameMs, 4);
});

test('240 lines at 63.556 us take 15.253 ms, 224 lines 14.236 ms', () => {
  expect(videoTiming(videoMode('240p60')!).activeMs).toBeCloseTo(15.253, 3);
  expect(videoTiming({ ...videoMode('240p60')!, activeLines: 224 }).activeMs).toBeCloseTo(14.236, 3);
});
