/** Comparisons from Lantern Street for tests of board and cards, made by the real comparison from records with stated latencies. */
import { compareRecords } from '../../src/compare/compareRecords.js';
import type { CompareInput } from '../../src/compare/measuredRegion.js';
import type { Comparison } from '../../src/record/comparison.js';
import { madeRecord } from '../compare/madeRecord.js';
import { lehmer, REFRESH_MS } from './fixtures.js';

/** Latencies: fixed delay, a wait of one refresh, and a spread of whole milliseconds. */
function latencies(fixedMs: number, n: number, seed: number, spreadMs = 0): number[] {
  const random = lehmer(seed);
  return Array.from(
    { length: n },
    () => fixedMs + random() * REFRESH_MS + (random() - 0.5) * 0.4 + random() * spreadMs,
  );
}

function clip(
  name: string,
  labels: Readonly<Record<string, string>>,
  values: readonly number[],
): CompareInput {
  const input = madeRecord(`${name}.mp4`, { labels, regions: [{ latenciesMs: values }] });
  return { ...input, recordPath: `${name}.record.json`, reportPath: `${name}.report.html` };
}

/** Four chains: the baseline, one that adds nothing, one that adds a fixed delay, one that wanders; and a zero check. */
export function benchComparison(): Comparison {
  const inputs = [
    clip('direct-1', { chain: 'Direct' }, latencies(50, 40, 1)),
    clip('direct-2', { chain: 'Direct' }, latencies(50.1, 40, 2)),
    clip('alder-1', { chain: 'Alder' }, latencies(50.1, 40, 3)),
    clip('alder-2', { chain: 'Alder' }, latencies(50, 40, 4)),
    clip('birch-1', { chain: 'Birch' }, latencies(54, 40, 5)),
    clip('birch-2', { chain: 'Birch' }, latencies(54.1, 40, 6)),
    clip('cedar-1', { chain: 'Cedar' }, latencies(66, 40, 7, 33)),
    clip('cedar-2', { chain: 'Cedar' }, latencies(66, 40, 8, 33)),
    clip('rowan-1', { chain: 'Rowan' }, latencies(58, 4, 9)),
  ];
  return compareRecords(inputs, {
    by: ['chain'],
    baseline: { chain: 'Direct' },
    stages: [{ name: 'living-room panel', valueMs: 16.7, halfWidthMs: 2 }],
  });
}

/** Strings that want to break out of every format. */
export const NASTY =
  '=HYPERLINK("x")<script>alert(1)</script>"\'|`*_[x](javascript:alert(1)) \u202Eevil\u202C\u001b[31m & a very long name that goes on and on without end';

/** A comparison whose names attack HTML, CSV, Markdown and addresses. */
export function hostileComparison(): Comparison {
  const hostile = madeRecord(`${NASTY}.mp4`, {
    labels: { [NASTY]: NASTY },
    regions: [{ name: NASTY, latenciesMs: latencies(50, 20, 3) }],
  });
  const plain = madeRecord('plain.mp4', {
    labels: { [NASTY]: '@SUM(1)' },
    regions: [{ name: NASTY, latenciesMs: latencies(52, 20, 4) }],
  });
  return compareRecords(
    [
      { ...hostile, recordPath: 'javascript:alert(1)', reportPath: 'javascript:alert(1)//"onmouseover="x' },
      { ...plain, recordPath: '/etc/passwd', reportPath: '//evil.example/x?y#z' },
    ],
    { by: [NASTY], baseline: null },
  );
}

/** Twelve groups with long names, wide letters and letters that Inter does not have. */
export function longNamesComparison(): Comparison {
  const names = [
    'WWWWWWWWWWWWWWWWWWWWWWWWWW',
    'A scaler behind another scaler behind a switch',
    'アダプター ランタン通り 二番',
    'MIXED mmmmmmmmmmmmmmmmmmmm',
    'Averyverylongnamewithoutanyspacethatcouldbebroken',
    'e\u0301\u0302\u0303 combining',
    ...['six', 'seven', 'eight', 'nine', 'ten', 'eleven'].map((n) => `Chain number ${n}`),
  ];
  const inputs = names.map((name, i) =>
    clip(
      `clip ${i}`,
      { chain: name, mode: '240p with everything on' },
      latencies(40 + 7 * i, 12, i + 1, i % 3 === 0 ? 30 : 0),
    ),
  );
  return compareRecords(inputs, { by: ['chain', 'mode'], baseline: null });
}
