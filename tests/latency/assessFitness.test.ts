import { describe, expect, it } from 'vitest';
import { assessFitness, type FitnessEvidence } from '../../src/latency/assessFitness.js';

/** A clip without fault. */
const good: FitnessEvidence = {
  captureRateHz: 240,
  rateSource: 'tag',
  ledContrast: 60,
  ledSaturated: false,
  presses: 30,
  measured: 30,
  ambiguous: 0,
  noResponse: 0,
  regionsUnsure: false,
  otherEdge: false,
  oddEdges: 0,
  flaggedShare: 0,
  screens: [{ name: 'top', answered: 30, contrast: 40, saturated: false, flickering: 0 }],
  exposureFraction: 0.95,
  exposureMeasured: true,
  frames: 4000,
  droppedFrames: 0,
  doubledFrames: 0,
  damagedFrames: 0,
  irregularityFrames: 0.001,
  tickFrames: 0.003,
  readoutKnown: true,
  readoutDistance: 0.5,
  shaken: [],
};

type Severity = 'note' | 'care' | 'unfit';
const screen = { name: 'top', answered: 30, contrast: 40, saturated: false, flickering: 0 };

// Evidence, code, severity, and a figure or name that the sentence must carry.
const single: readonly (readonly [string, Partial<FitnessEvidence>, Severity, RegExp])[] = [
  ['no-led', { ledContrast: 0, presses: 0, measured: 0 }, 'unfit', /LED/],
  ['weak-led', { ledContrast: 9 }, 'care', /9 times/],
  ['led-saturated', { ledSaturated: true }, 'care', /clipped/],
  ['no-presses', { presses: 0, measured: 0 }, 'unfit', /press/],
  ['no-responses', { measured: 0, noResponse: 30 }, 'unfit', /response window/],
  ['few-responses', { measured: 20, noResponse: 7, ambiguous: 3 }, 'care', /20 of 30.*7 .*3 /],
  ['regions-unsure', { regionsUnsure: true }, 'care', /without certainty/],
  ['led-rests-the-other-way', { otherEdge: true }, 'care', /release/],
  ['odd-led-edges', { oddEdges: 3 }, 'care', /3 times/],
  ['many-flags', { flaggedShare: 0.4 }, 'care', /40 %/],
  ['most-unanswered', { measured: 12, noResponse: 18 }, 'unfit', /12 of 30/],
  ['few-presses', { presses: 5, measured: 5 }, 'note', /5 presses/],
  ['screen-flickers', { screens: [{ ...screen, flickering: 0.5 }] }, 'care', /does not stand still/],
  [
    'region-misses',
    { screens: [screen, { ...screen, name: 'low', answered: 11 }] },
    'care',
    /"low".*11 of the 30/,
  ],
  ['weak-screen', { screens: [{ ...screen, name: 'sprite', contrast: 5 }] }, 'care', /"sprite".*5\.0/],
  ['screen-saturated', { screens: [{ ...screen, saturated: true }] }, 'care', /"top"/],
  ['slow-capture', { captureRateHz: 60 }, 'care', /60\.00.*16\.7 ms/],
  ['short-exposure', { exposureFraction: 0.12 }, 'care', /12 %/],
  ['exposure-assumed', { exposureMeasured: false }, 'note', /assumed/],
  ['dropped-frames', { droppedFrames: 80 }, 'care', /80 frames.*2\.0 %/],
  ['dropped-frames', { droppedFrames: 1 }, 'note', /1 frame is/],
  ['doubled-frames', { doubledFrames: 400 }, 'care', /400 frames.*10 %/],
  ['damaged-frames', { damagedFrames: 2 }, 'care', /2 frames/],
  ['irregular-times', { irregularityFrames: 0.2 }, 'care', /0\.20/],
  ['coarse-timestamps', { tickFrames: 0.4 }, 'note', /0\.40/],
  ['shaken', { shaken: [{ name: 'led', shakePx: 0.6, sidePx: 40 }] }, 'note', /0\.6 px.*region led/],
  [
    'shaken',
    {
      shaken: [
        { name: 'top', shakePx: 2, sidePx: 90 },
        { name: 'led', shakePx: 2, sidePx: 10 },
        { name: 'low', shakePx: null, sidePx: 5 },
      ],
    },
    'care',
    /2\.0 px.*region led.*20 %/,
  ],
  ['readout-unknown', { readoutKnown: false, readoutDistance: 0.2 }, 'note', /20 %.*0\.10/],
  ['readout-unknown', { readoutKnown: false, readoutDistance: 0.5 }, 'care', /50 %.*0\.25/],
];

describe('fitness of a clip', () => {
  it('is fit without a word where nothing is wrong', () => {
    expect(assessFitness(good)).toEqual({ class: 'fit', reasons: [] });
  });

  it.each(single)(
    '%s: exactly this reason, from exactly its evidence %j',
    (code, evidence, severity, words) => {
      const { class: verdict, reasons } = assessFitness({ ...good, ...evidence });
      expect(reasons.map((r) => [r.code, r.severity])).toEqual([[code, severity]]);
      expect(reasons[0]!.text).toMatch(words);
      expect(reasons[0]!.text).toMatch(/^[A-Z0-9].*\.$/s);
      expect(verdict).toBe({ note: 'fit', care: 'usable with care', unfit: 'unfit' }[severity]);
    },
  );

  it('does not speak just inside its limits', () => {
    const edge: Partial<FitnessEvidence> = {
      captureRateHz: 100,
      ledContrast: 15,
      measured: 27,
      noResponse: 6,
      screens: [{ ...screen, contrast: 8 }],
      exposureFraction: 0.5,
      doubledFrames: 40,
      irregularityFrames: 0.05,
      tickFrames: 0.1,
      readoutKnown: false,
      readoutDistance: 0.1,
    };
    expect(assessFitness({ ...good, ...edge }).reasons).toEqual([]);
  });

  it('warns of a rate that rests on timestamps where slow motion could hide', () => {
    const slow = { captureRateHz: 60, rateSource: 'timestamps' };
    expect(assessFitness({ ...good, ...slow }).reasons.map((r) => r.code)).toContain('rate-weak');
    expect(assessFitness({ ...good, rateSource: 'timestamps' }).reasons).toEqual([]);
  });

  it('takes the worst of several reasons, and keeps them all', () => {
    const bad = { ledContrast: 10, droppedFrames: 1, measured: 0, noResponse: 30 };
    const { class: verdict, reasons } = assessFitness({ ...good, ...bad });
    expect(verdict).toBe('unfit');
    expect(reasons.map((r) => r.code).sort()).toEqual(['dropped-frames', 'no-responses', 'weak-led']);
    const { ledContrast, droppedFrames } = bad;
    expect(assessFitness({ ...good, ledContrast, droppedFrames }).class).toBe('usable with care');
  });

  it('names every region that is weak', () => {
    const screens = ['top', 'middle', 'bottom'].map((name, i) => ({
      name,
      answered: 30,
      contrast: 3 + 20 * (i % 2),
      saturated: false,
      flickering: 0,
    }));
    const texts = assessFitness({ ...good, screens }).reasons.map((r) => r.text);
    expect(texts).toHaveLength(2);
    expect(texts[0]).toContain('"top"');
    expect(texts[1]).toContain('"bottom"');
  });
});
