import { describe, expect, it } from 'vitest';
import { normalCdf } from '../../src/numeric/normal.js';
import { budgetBars } from '../../src/report/plots/budgetBars.js';
import { cumulativePlot, cumulativeSteps } from '../../src/report/plots/cumulativePlot.js';
import { evidenceAxis } from '../../src/report/plots/evidenceAxis.js';
import { histogram } from '../../src/report/plots/histogram.js';
import { standaloneSvg } from '../../src/report/plots/plotSheet.js';
import { pressPlot } from '../../src/report/plots/pressPlot.js';
import { stripPlot } from '../../src/report/plots/stripPlot.js';
import { waitCumulative, waitDensity } from '../../src/report/plots/waitCurve.js';
import { readMarkup, unescaped } from './wellFormed.js';

const valuesMs = [60.2, 61.7, 63.9, 66.1, 68.4, 70.3, 71.1, 72.9, 75.8];
const shape = { fixedDelayMs: 60.1, periodMs: 1000 / 60, spreadMs: 0.5 };
const wait = { ...shape, intervalMs: [59.2, 60.9] as const };
const points = valuesMs.map((v) => ({ valueMs: v, intervalMs: [v - 0.9, v + 0.9] as const }));
const presses = [
  ...valuesMs.map((v, i) => ({
    index: i + 1,
    status: 'measured' as const,
    latencyMs: v,
    intervalMs: [v - 1, v + 1] as const,
  })),
  { index: 10, status: 'no-response' as const, latencyMs: null, intervalMs: null },
  { index: 11, status: 'excluded' as const, latencyMs: null, intervalMs: null },
  { index: 12, status: 'ambiguous' as const, latencyMs: 64, intervalMs: null },
];

const plots: Readonly<Record<string, string>> = {
  strip: stripPlot({
    id: 's',
    title: 'T <1>',
    points,
    median: { valueMs: 68.4, intervalMs: [61.7, 72.9] },
    wait,
  }),
  stripEmpty: stripPlot({ id: 's', title: 'T', points: [], median: null, wait: null }),
  stripOne: stripPlot({
    id: 's',
    title: 'T',
    points: points.slice(0, 1),
    median: { valueMs: 60.2, intervalMs: null },
    wait: null,
  }),
  histogram: histogram({ id: 'h', title: 'T', valuesMs, model: shape }),
  histogramSame: histogram({ id: 'h', title: 'T', valuesMs: [50, 50, 50], model: null }),
  histogramEmpty: histogram({ id: 'h', title: 'T', valuesMs: [], model: null }),
  histogramNeedle: histogram({
    id: 'h',
    title: 'T',
    valuesMs,
    model: { fixedDelayMs: 66, periodMs: 0, spreadMs: 0 },
  }),
  cumulative: cumulativePlot({ id: 'c', title: 'T', valuesMs, model: shape }),
  cumulativeEmpty: cumulativePlot({ id: 'c', title: 'T', valuesMs: [], model: null }),
  presses: pressPlot({ id: 'p', title: 'T', presses, medianMs: 68.4, explainedMs: [60.1, 76.8] }),
  pressesNone: pressPlot({ id: 'p', title: 'T', presses: [], medianMs: null, explainedMs: null }),
  budget: budgetBars({
    id: 'b',
    title: 'T',
    bars: [
      { name: 'LED onset', standardUncertaintyMs: 0.12, type: 'A', common: false },
      { name: 'row "readout"', standardUncertaintyMs: 0.2, type: 'B', common: true },
    ],
    combinedMs: 0.2332,
  }),
};

describe.each(Object.entries(plots))('%s', (_, svg) => {
  const { tags } = readMarkup(svg);

  it('is one well-formed picture with role, title and words', () => {
    expect(tags[0]!.name).toBe('svg');
    expect(tags[0]!.attributes.get('role')).toBe('img');
    expect(tags.slice(1, 3).map((t) => t.name)).toEqual(['title', 'desc']);
    expect(tags[0]!.attributes.get('aria-labelledby')).toBe(tags[1]!.attributes.get('id'));
    expect(tags[0]!.attributes.get('aria-describedby')).toBe(tags[2]!.attributes.get('id'));
  });

  it('has finite numbers of at most 3 decimals and no colour of its own', () => {
    expect(svg).not.toMatch(/NaN|Infinity|undefined|e-\d/);
    for (const tag of tags) {
      for (const [name, value] of tag.attributes) {
        if (['d', 'x', 'y', 'width', 'height', 'viewBox'].includes(name))
          expect(value).not.toMatch(/\d\.\d{4}/);
        if (name === 'fill' || name === 'stroke') expect(value).toMatch(/^url\(#[\w-]+\)$/);
        expect(name).not.toBe('style');
      }
    }
  });
});

describe('plots say their figures in words', () => {
  const descriptionOf = (svg: string): string => unescaped(/<desc[^>]*>([^<]*)</.exec(svg)?.[1] ?? '');

  it('in <desc>', () => {
    expect(descriptionOf(plots.strip!)).toBe(
      '9 latencies from 60.2 ms to 75.8 ms, each with its 95 % interval. Median 68.4 ms, interval 61.7 to 72.9 ms. ' +
        'Fixed delay 60.1 ms, 95 % interval 59.2 to 60.9 ms. The wait adds up to 16.7 ms.',
    );
    expect(descriptionOf(plots.cumulative!)).toContain(
      'Half of the 9 presses were answered within 68.4 ms, all within 75.8 ms.',
    );
    expect(descriptionOf(plots.presses!)).toContain(
      'Without response: 10. Ambiguous: 12. Excluded: 11. Median 68.4 ms.',
    );
    expect(descriptionOf(plots.budget!)).toContain(
      'row "readout" 0.200 ms, type B, common to all presses. Together 0.233 ms.',
    );
  });

  it('and the histogram counts every latency once', () => {
    for (const [svg, n] of [
      [plots.histogram!, 9],
      [plots.histogramSame!, 3],
    ] as const) {
      const counts = [...descriptionOf(svg).matchAll(/ ms: (\d+)/g)].map((m) => Number(m[1]));
      expect(counts.reduce((a, b) => a + b, 0)).toBe(n);
    }
  });

  it('and a plot alone brings its colours along', () => {
    const alone = standaloneSvg(plots.strip!);
    expect(readMarkup(alone).styles[0]).toContain('prefers-color-scheme:dark');
  });
});

describe('strip plot geometry', () => {
  it('puts dots where the axis says', () => {
    const { tags } = readMarkup(plots.strip!);
    const dots = tags.find((t) => t.attributes.get('class') === 'dots')!.attributes.get('d')!;
    const x = [...dots.matchAll(/M([\d.]+) /g)].map((m) => Number(m[1]));
    const slope = (x[8]! - x[0]!) / (valuesMs[8]! - valuesMs[0]!);
    for (const [i, v] of valuesMs.entries()) expect(x[i]).toBeCloseTo(x[0]! + slope * (v - valuesMs[0]!), 2);
  });
});

describe('waitCurve', () => {
  it('is the normal cumulative without a wait', () => {
    for (let z = -4; z <= 4; z += 0.25) {
      const ours = waitCumulative(50 + 2 * z, { fixedDelayMs: 50, periodMs: 0, spreadMs: 2 });
      expect(Math.abs(ours - normalCdf(z))).toBeLessThan(2e-7);
    }
  });

  it('is a ramp with a wait and no spread', () => {
    const ramp = { fixedDelayMs: 60, periodMs: 20, spreadMs: 0 };
    expect(waitCumulative(60 - 0.1, ramp)).toBeCloseTo(0, 5);
    expect(waitCumulative(65, ramp)).toBeCloseTo(0.25, 5);
    expect(waitCumulative(80.1, ramp)).toBeCloseTo(1, 5);
    expect(waitDensity(70, ramp)).toBeCloseTo(1 / 20, 6);
  });

  it('has the density as its slope (brute-force integral)', () => {
    let sum = 0;
    const stepMs = 0.01;
    for (let ms = 50; ms < 90; ms += stepMs) {
      sum += stepMs * waitDensity(ms + stepMs / 2, shape);
      expect(Math.abs(sum - waitCumulative(ms + stepMs, shape))).toBeLessThan(1e-4);
    }
  });
});

describe('cumulativeSteps', () => {
  it('rises by 1/n at each sorted value', () => {
    expect(cumulativeSteps([3, 1, 2, 2])).toEqual([
      [1, 0.25],
      [2, 0.5],
      [2, 0.75],
      [3, 1],
    ]);
  });
});

describe('evidenceAxis', () => {
  const T = 1 / 240;
  const frames = (from: number, count: number): number[] =>
    Array.from({ length: count }, (_, i) => (from + i + 0.5) * T);

  it('joins strips that overlap and is one line', () => {
    const axis = evidenceAxis([frames(0, 24), frames(16, 24)], T);
    expect(axis.windows).toHaveLength(1);
    expect(axis.x(10 * T) - axis.x(9 * T)).toBeCloseTo(axis.cell, 9);
    expect(axis.x(39 * T) - axis.x(0)).toBeCloseTo(39 * axis.cell, 9);
  });

  it('cuts out what nothing shows', () => {
    const axis = evidenceAxis([frames(0, 24), frames(60, 24)], T);
    expect(axis.windows).toHaveLength(2);
    expect(axis.shown(40 * T)).toBe(false);
    expect(axis.x(61 * T) - axis.x(60 * T)).toBeCloseTo(axis.cell, 9);
    expect(axis.x(60 * T) - axis.x(24 * T)).toBeLessThan(3 * axis.cell);
  });
});

describe('press plot', () => {
  it('names only presses that exist', () => {
    const one = pressPlot({
      id: 'p',
      title: 'T',
      presses: presses.slice(0, 1),
      medianMs: null,
      explainedMs: null,
    });
    expect([...one.matchAll(/class="tick">(\d+)</g)].map((m) => m[1]).at(-1)).toBe('1');
  });

  it('has a sign for each way a press can end', () => {
    const { tags } = readMarkup(plots.presses!);
    const of = (kind: string): string =>
      tags.find((t) => t.attributes.get('class') === kind)?.attributes.get('d') ?? '';
    expect(of('dots').match(/M/g)).toHaveLength(9);
    expect(of('hollow').match(/z/g)).toHaveLength(1);
    expect(of('lost').match(/a4 4/g)).toHaveLength(2);
    expect(of('cross').match(/M/g)).toHaveLength(1);
  });
});
