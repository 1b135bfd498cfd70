import { describe, expect, it } from 'vitest';
import { compareRecords } from '../../src/compare/compareRecords.js';
import type { CompareInput } from '../../src/compare/measuredRegion.js';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { comparisonSchema } from '../../src/record/comparisonSchema.js';
import { type Chain, commonPart, drawLatencies, type Made, madeRecord } from './madeRecord.js';

const FRAME_MS = 1000 / 60;
const random = seededRandom(41);
const clip = (file: string, chain: string, n: number, law: Chain, made: Partial<Made> = {}): CompareInput =>
  madeRecord(file, {
    labels: { chain },
    ...(law.uncertaintyMs ? { uncertaintyMs: law.uncertaintyMs } : {}),
    regions: [{ latenciesMs: drawLatencies(random, n, law) }],
    ...made,
  });
const BY = { by: ['chain'], baseline: { chain: 'Direct' } } as const;
/** The same latencies for every clip: differences are then exact. */
const SAME = drawLatencies(seededRandom(5), 24, { delayMs: 40 });
const shifted = (file: string, chain: string, byMs: number, made: Partial<Made> = {}): CompareInput =>
  madeRecord(file, { labels: { chain }, regions: [{ latenciesMs: SAME.map((l) => l + byMs) }], ...made });

describe('sentences and verdicts', () => {
  const direct = clip('direct.mp4', 'Direct', 80, { delayMs: 40 });
  const verdictOf = (other: CompareInput) => compareRecords([direct, other], BY).comparisons[0]!;

  it('the same chain again: no added lag', () => {
    const found = verdictOf(clip('again.mp4', 'Alder', 80, { delayMs: 40 }));
    expect(found.sentence).toBe('Alder: no added lag (within 1 ms).');
    expect(found.verdict).toBe('no-added-lag');
    expect(found.equivalent).toBe(true);
    expect(Math.abs(found.equivalence!.interval90Ms[0])).toBeLessThan(1);
    expect(found.equivalence!.interval90Ms[1]).toBeLessThan(1);
  });

  it('a fixed 4 ms more: adds, fixed, in ms and display frames', () => {
    const found = verdictOf(clip('slow.mp4', 'Birch', 80, { delayMs: 44 }));
    expect(found.verdict).toBe('adds-fixed');
    expect(found.sentence).toMatch(/^Birch adds [34]\.\d ms \(0\.2\d display frames\), fixed\.$/);
    expect(found.addedMs!).toBeGreaterThan(3.4);
    expect(found.addedMs!).toBeLessThan(4.6);
    expect(found.addedDisplayFrames!).toBeCloseTo(found.addedMs! / FRAME_MS, 4);
    expect(found.equivalent).toBe(false);
  });

  it('uniform over two display frames on 17 ms: adds 17 to 50 ms, variable', () => {
    const found = verdictOf(clip('wild.mp4', 'Cedar', 80, { delayMs: 57, jitterFrames: 2 }));
    expect(found.verdict).toBe('adds-variable');
    expect(found.sentence).toMatch(
      /^Cedar adds \d+ to \d+ ms \([\d.]+ to [\d.]+ display frames\), variable\.$/,
    );
    expect(found.addedRangeMs![0]).toBeGreaterThan(17 - 4);
    expect(found.addedRangeMs![0]).toBeLessThan(17 + 4);
    expect(found.addedRangeMs![1]).toBeGreaterThan(50.3 - 4);
    expect(found.addedRangeMs![1]).toBeLessThan(50.3 + 4);
  });

  it('6 ms less: less lag', () => {
    const found = verdictOf(clip('fast.mp4', 'Elm', 60, { delayMs: 34 }));
    expect(found.verdict).toBe('less-lag');
    expect(found.sentence).toMatch(/^Elm has [56]\.\d ms \(0\.[34]\d display frames\) less lag, fixed\.$/);
  });

  it('twelve presses: cannot say, and how many more would', () => {
    const found = verdictOf(clip('few.mp4', 'Fir', 12, { delayMs: 40.2 }));
    expect(found.verdict).toBe('undecided');
    expect(found.sentence).toMatch(/^Fir: cannot say; film about \d+ more presses/);
    expect(found.morePresses!).toBeGreaterThanOrEqual(10);
    expect(found.morePresses!).toBeLessThan(400);
  });

  it('two presses: no method at all', () => {
    const found = verdictOf(clip('two.mp4', 'Gorse', 2, { delayMs: 40 }));
    expect(found).toMatchObject({ method: 'none', addedMs: null, verdict: 'undecided' });
    expect(found.sentence).toContain('cannot say');
  });

  it('a claim that stands alone can fall among many (Holm)', () => {
    // One-sided levels are doubled, tripled ... so that the adjusted one is at least the plain one, and larger for some.
    const others = ['Ash', 'Box', 'Cherry', 'Dogwood'].map((name) => shifted(`${name}.mp4`, name, 0.3));
    const document = compareRecords([shifted('d.mp4', 'Direct', 0), ...others], BY);
    for (const c of document.comparisons) {
      expect(c.equivalence!.pAdjusted).toBeCloseTo(Math.min(1, 4 * c.equivalence!.p), 5);
      expect(c.pAdjusted!).toBeCloseTo(Math.min(1, 4 * c.p!), 5);
    }
  });
});

describe('groups', () => {
  it('by two labels, the baseline within the same mode', () => {
    const inputs = [
      shifted('a.mp4', 'Direct', 0, { labels: { chain: 'Direct', mode: '240p' } }),
      shifted('b.mp4', 'Birch', 4, { labels: { chain: 'Birch', mode: '240p' } }),
      shifted('c.mp4', 'Direct', 10, { labels: { chain: 'Direct', mode: '480p' } }),
      shifted('d.mp4', 'Birch', 19, { labels: { chain: 'Birch', mode: '480p' } }),
      shifted('e.mp4', 'Birch', 19, { labels: { chain: 'Birch', mode: '720p' } }),
    ];
    const document = compareRecords(inputs, { by: ['chain', 'mode'], baseline: { chain: 'Direct' } });
    expect(document.comparisons.map((c) => [c.name, c.baseline.mode, c.addedMs])).toEqual([
      ['Birch, 240p', '240p', expect.closeTo(4, 2)],
      ['Birch, 480p', '480p', expect.closeTo(9, 2)],
    ]);
    expect(document.warnings.join()).toContain('Birch, 720p is compared with nothing');
    expect(document.groups.map((g) => g.isBaseline)).toEqual([true, false, true, false, false]);
  });

  it('same regions against same regions where a screen has several', () => {
    const two = (file: string, chain: string, byMs: number) =>
      madeRecord(file, {
        labels: { chain },
        regions: [
          { name: 'top', latenciesMs: SAME.map((l) => l + byMs) },
          { name: 'bottom', latenciesMs: SAME.map((l) => l + byMs + 15), y: 400 },
        ],
      });
    const document = compareRecords([two('a.mp4', 'Direct', 0), two('b.mp4', 'Birch', 4)], BY);
    expect(document.groups).toHaveLength(4);
    expect(document.comparisons.map((c) => [c.region, c.baselineRegion])).toEqual([
      ['top', 'top'],
      ['bottom', 'bottom'],
    ]);
    for (const c of document.comparisons) expect(c.addedMs!).toBeCloseTo(4, 2);
  });

  it('labels of the session table stand above those of the recipe', () => {
    const inputs = [
      shifted('a.mp4', 'Direct', 0),
      { ...shifted('b.mp4', 'wrong', 4), labels: { chain: 'Birch' } },
    ];
    expect(compareRecords(inputs, BY).groups.map((g) => g.name)).toEqual(['Direct', 'Birch']);
  });

  it('unfit clips are left out, with the reason', () => {
    const reasons = [
      { code: 'no-responses', severity: 'unfit' as const, text: 'No press was followed by a change.' },
    ];
    const document = compareRecords(
      [shifted('a.mp4', 'Direct', 0), shifted('b.mp4', 'Birch', 4, { fitness: { class: 'unfit', reasons } })],
      BY,
    );
    expect(document.groups.map((g) => g.name)).toEqual(['Direct']);
    expect(document.clips[1]!.use).toBe('left-out');
    expect(document.warnings.join()).toContain(
      'b.mp4 is left out: it is unfit. No press was followed by a change.',
    );
  });

  it.each([
    [{ by: ['colour'], baseline: null }, 'no clip has a label "colour": there are chain'],
    [
      { by: ['chain'], baseline: { chain: 'Oak' } },
      'no clip belongs to the baseline chain=Oak: there are Direct',
    ],
    [{ by: ['chain'], baseline: { mode: '240p' } }, 'the baseline names the label "mode"'],
    [{ by: [], baseline: null }, 'nothing to group by'],
    [{ by: ['chain'], baseline: null, marginMs: 0 }, 'margin'],
  ])('a wrong request is refused: %o', (request, message) => {
    expect(() => compareRecords([shifted('a.mp4', 'Direct', 0)], request)).toThrow(message);
  });

  it('the document is that of the schema, whatever is missing', () => {
    const inputs = [
      shifted('a.mp4', 'Direct', 0),
      clip('b.mp4', 'Birch', 2, { delayMs: 44 }),
      shifted('c.mp4', 'Cedar', 2, { refreshHz: null }),
    ];
    const document = compareRecords(inputs, {
      ...BY,
      allow: ['refresh'],
      stages: [{ name: 'panel', valueMs: 16.7, halfWidthMs: 2 }],
    });
    expect(() => comparisonSchema.parse(document)).not.toThrow();
    expect(JSON.stringify(document)).toBe(
      JSON.stringify(
        compareRecords(inputs, {
          ...BY,
          allow: ['refresh'],
          stages: [{ name: 'panel', valueMs: 16.7, halfWidthMs: 2 }],
        }),
      ),
    );
  });
});

describe('what does not compare', () => {
  const direct = shifted('a.mp4', 'Direct', 0);
  it.each([
    ['level', { level: 0.5 }, 'different response levels (50 %, 10 %)'],
    ['edge', { edge: 'release' }, 'different edges of the LED'],
    ['light', { light: 'pulsed' }, 'different kinds of light'],
    ['refresh', { refreshHz: 50 }, 'different refresh rates (50.00 and 60.00 Hz)'],
    ['refresh', { refreshHz: null }, 'not known for b.mp4'],
    ['height', { regions: [{ latenciesMs: SAME, y: 300 }] }, 'different heights (37 % of the picture apart)'],
  ] as const)('%s is refused, and compared when allowed', (allowance, made, why) => {
    const inputs = [direct, shifted('b.mp4', 'Birch', 0, made as Partial<Made>)];
    expect(() => compareRecords(inputs, BY)).toThrow(why);
    expect(() => compareRecords(inputs, BY)).toThrow(`--allow ${allowance}`);
    const { comparisons } = compareRecords(inputs, { ...BY, allow: [allowance] });
    expect(comparisons[0]!.allowed.join()).toContain(why);
  });

  it('60 and 59.94 Hz compare; heights a little apart are only said', () => {
    const inputs = [
      direct,
      shifted('b.mp4', 'Birch', 0, { refreshHz: 59.94, regions: [{ latenciesMs: SAME, y: 130 }] }),
    ];
    expect(compareRecords(inputs, BY).warnings.join()).toContain("6 % of the picture's height apart");
  });
});

describe('what does not shrink with presses', () => {
  const widthMs = (inputs: CompareInput[]): number => {
    const [low, high] = compareRecords(inputs, BY).comparisons[0]!.intervalMs!;
    return high - low;
  };
  const plain = widthMs([shifted('a.mp4', 'Direct', 0), shifted('b.mp4', 'Birch', 0)]);

  it('an unknown readout cancels at equal heights and counts at unequal ones', () => {
    const common = [commonPart('row readout', 1)];
    const same = widthMs([
      shifted('a.mp4', 'Direct', 0, { common, ledY: 200 }),
      shifted('b.mp4', 'Birch', 0, { common, ledY: 200 }),
    ]);
    expect(same).toBeCloseTo(plain, 2);
    // LED above the region in one clip and below it in the other: the error has the other sign.
    const opposite = widthMs([
      shifted('a.mp4', 'Direct', 0, { common, ledY: 200 }),
      shifted('b.mp4', 'Birch', 0, { common, ledY: 20 }),
    ]);
    expect(opposite).toBeGreaterThan(Math.hypot(plain, 2 * 1.96 * 2) * 0.95);
  });

  it("an LED's delay cancels where it is the same LED", () => {
    const common = [commonPart('LED delay', 1)];
    const made = { common, cueDelayMs: 2 };
    expect(widthMs([shifted('a.mp4', 'Direct', 0, made), shifted('b.mp4', 'Birch', 0, made)])).toBeCloseTo(
      plain,
      2,
    );
    const other = { common, cueDelayMs: 3 };
    expect(
      widthMs([shifted('a.mp4', 'Direct', 0, made), shifted('b.mp4', 'Birch', 0, other)]),
    ).toBeGreaterThan(2 * 1.96 * Math.SQRT2);
  });

  it("the form of the response is each clip's own and never cancels", () => {
    const common = [commonPart('response form', 1)];
    const both = widthMs([
      shifted('a.mp4', 'Direct', 0, { common }),
      shifted('b.mp4', 'Birch', 0, { common }),
    ]);
    expect(both).toBeGreaterThan(2 * 1.96 * Math.SQRT2);
  });

  it('clips that differ widen the interval as clips, however many presses they hold', () => {
    const alike = [0, 0.05, -0.05].flatMap((d, i) => [
      shifted(`a${i}.mp4`, 'Direct', d),
      shifted(`b${i}.mp4`, 'Birch', d),
    ]);
    const apart = [0, 2, -2].flatMap((d, i) => [
      shifted(`a${i}.mp4`, 'Direct', d),
      shifted(`b${i}.mp4`, 'Birch', d),
    ]);
    expect(widthMs(alike)).toBeLessThan(plain);
    // Between-clip sd 2 ms, 3 clips each: standard error of the difference 2 sqrt(2 / 3) = 1.6 ms, 4 degrees of freedom.
    expect(widthMs(apart)).toBeGreaterThan(2 * 1.96 * 1.6);
    const document = compareRecords(apart, BY);
    expect(document.betweenClips.degreesOfFreedom).toBe(4);
    expect(document.betweenClips.intervalMs![0]).toBeLessThan(2);
    expect(document.betweenClips.intervalMs![1]).toBeGreaterThan(2);
    expect(document.groups[0]!.betweenClipSdMs).toBeCloseTo(2, 2);
    // Each clip is steady within itself: its lag is fixed.
    expect(document.groups.map((g) => g.lag)).toEqual(['fixed', 'fixed']);
    // Rank test and shift see clips, too.
    expect(document.comparisons[0]!.rankTest!.p).toBeGreaterThan(0.05);
    const [low, high] = document.comparisons[0]!.hodgesLehmann!.intervalMs;
    expect(high - low).toBeGreaterThan(2 * 1.96 * 1.2);
  });

  it('says that the spread between clips is not known where no group has two', () => {
    const { betweenClips } = compareRecords([shifted('a.mp4', 'Direct', 0)], BY);
    expect(betweenClips).toMatchObject({ degreesOfFreedom: 0, sdMs: null });
    expect(betweenClips.sentence).toContain('not measured');
  });
});
