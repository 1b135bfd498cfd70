import { describe, expect, it } from 'vitest';
import { evidenceText } from '../../src/report/evidenceText.js';

const still = { contrast: 212.4, rippleHz: null, rippleDepth: null, shakePx: 0.04, clippedShare: 0 };

describe('evidenceText', () => {
  it('says each figure with its unit', () => {
    expect(evidenceText({ ...still, rippleHz: 19.7, rippleDepth: 0.034, clippedShare: 0.12 })).toBe(
      'changes 212 times the noise of a frame; moves by 0.0 px (RMS); ripples by 3.4 %, seen at 20 Hz; 12 % clipped',
    );
  });

  it('says what could not be told, and no ratio that says nothing', () => {
    expect(evidenceText({ ...still, contrast: null, shakePx: null })).toMatch(
      /^no change seen; shake not measurable; no regular ripple; /,
    );
    expect(evidenceText({ ...still, contrast: 1e6 })).toMatch(/^changes more than 1000 times/);
  });
});
