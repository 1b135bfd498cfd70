import { createHash } from 'node:crypto';
import { beforeAll, describe, expect, it } from 'vitest';
import type { ClipRecord } from '../../src/record/record.js';
import { renderReport } from '../../src/report/reportHtml.js';
import {
  evidenceOf,
  HOSTILE,
  hostileRecord,
  noResponseRecord,
  normalRecord,
  onePressRecord,
  recordOf,
  unknownExposureRecord,
} from './fixtures.js';
import { readMarkup, unescaped } from './wellFormed.js';

const SVG_NAMESPACE = 'http://www.w3.org/2000/svg';

const records: Readonly<Record<string, ClipRecord>> = {
  normal: normalRecord(),
  'one press': onePressRecord(),
  'no response': noResponseRecord(),
  'unknown exposure': unknownExposureRecord(),
  hostile: hostileRecord(),
};

function deepFreeze<T>(value: T): T {
  if (typeof value === 'object' && value !== null) {
    for (const part of Object.values(value)) deepFreeze(part);
    Object.freeze(value);
  }
  return value;
}

describe('readMarkup, the judge of these tests', () => {
  it.each([
    '<p>a</b>',
    '<p>',
    '<p>a & b</p>',
    '<p>a > b</p>',
    '<p a=b></p>',
    '<p a="1" a="2"></p>',
    '<br>',
    '<p a="&x"></p>',
    '< p>',
  ])('refuses %s', (source) => {
    expect(() => readMarkup(source)).toThrow();
  });
});

describe.each(Object.entries(records))('report of %s', (_, record) => {
  let page = '';
  let read: ReturnType<typeof readMarkup>;
  beforeAll(() => {
    page = renderReport(record, evidenceOf(record, 12, Uint8Array.of(0xff, 0xd8, 0xff, 0xd9)));
    read = readMarkup(page);
  });

  it('is well formed, with unique ids and links that lead somewhere', () => {
    const ids = read.tags.flatMap((t) => t.attributes.get('id') ?? []);
    expect(new Set(ids).size).toBe(ids.length);
    const local = read.tags.flatMap((t) => t.attributes.get('href') ?? []).filter((h) => h.startsWith('#'));
    expect(local.length).toBeGreaterThan(3);
    for (const link of local) expect(ids).toContain(link.slice(1));
    for (const tag of read.tags) {
      for (const name of ['aria-labelledby', 'aria-describedby']) {
        const target = tag.attributes.get(name);
        if (target !== undefined) expect(ids).toContain(target);
      }
    }
  });

  it('asks no network for anything and runs nothing', () => {
    for (const { name, attributes } of read.tags) {
      expect([
        'script',
        'iframe',
        'object',
        'embed',
        'form',
        'base',
        'audio',
        'video',
        'foreignObject',
      ]).not.toContain(name);
      for (const [key, value] of attributes) {
        expect(key).not.toMatch(/^on|^style$|^srcset$/);
        if (key === 'xmlns') expect(value).toBe(SVG_NAMESPACE);
        else if (['src', 'href'].includes(key))
          expect(value).toMatch(/^(?:data:(?:image\/(?:png|jpeg);base64,[\w+/=]+|,)|#[\w-]+)$/);
        else if (key === 'fill') expect(value).toMatch(/^url\(#[\w-]+\)$/);
      }
    }
    expect(read.styles).toHaveLength(1);
    expect(read.styles[0]).not.toMatch(/url\(|@import|@font-face|https?:/);
  });

  it('has a policy that admits its own style and nothing else', () => {
    const policy = read.tags
      .find((t) => t.attributes.get('http-equiv') === 'Content-Security-Policy')!
      .attributes.get('content')!;
    const hash = createHash('sha256').update(read.styles[0]!).digest('base64');
    expect(policy).toBe(
      `default-src 'none'; img-src data:; style-src 'sha256-${hash}'; base-uri 'none'; form-action 'none'`,
    );
  });

  it('has no hole in its figures', () => {
    expect(read.text).not.toMatch(/NaN|undefined|Infinity|\[object/);
  });

  it('holds the recipe in full', () => {
    const recipe = unescaped(/<pre>([^<]*)<\/pre>/.exec(page)?.[1] ?? '');
    if (record !== records.hostile) expect(JSON.parse(recipe)).toEqual(record.recipe);
    else expect(recipe).toContain('alert(');
  });
});

describe('renderReport', () => {
  const record = records.normal!;
  const page = renderReport(record, evidenceOf(record, 24));
  const text = unescaped(page.replace(/<style>.*?<\/style>/s, '').replace(/<[^>]*>/g, ' ')).replace(
    /\s+/g,
    ' ',
  );

  it('answers first: verdict, fixed delay, typical, worst, jitter', () => {
    const order = [
      '60.1 ms',
      'fixed delay',
      '95 % interval 59.2 to 60.9 ms',
      'This chain adds a fixed 60.1 ms',
      '68.4 ms',
      '76.8 ms',
      '0.2 ms',
      'What to worry about, and',
    ];
    let at = 0;
    for (const words of order) {
      const next = text.indexOf(words, at);
      expect(next, words).toBeGreaterThanOrEqual(at);
      at = next;
    }
  });

  it('lists every press and region with its latency and U (k = 2)', () => {
    for (const press of record.presses) {
      for (const r of press.responses) {
        if (r.latencyMs === undefined || r.uncertaintyMs === undefined) continue;
        const u = 2 * r.uncertaintyMs;
        const decimals = u >= 0.5 ? 1 : 2;
        expect(text).toContain(`${r.latencyMs.toFixed(decimals)} ± ${u.toFixed(decimals)} ms`);
      }
    }
    expect(text).toContain('two buttons');
    expect(text).toContain('dropped-frame');
  });

  it('shows evidence of every press: two crops rows at least, and a link from the table', () => {
    for (const press of record.presses) {
      expect(page).toContain(`href="#press-${press.index}"`);
      const sheet = page.slice(page.indexOf(`id="press-${press.index}"`)).split('</details>')[0]!;
      expect(sheet.match(/data:image\/png/g)).toHaveLength(1 + press.responses.length);
    }
  });

  it('says where it all came from', () => {
    for (const words of [
      record.clip.sha256,
      record.tool.ffmpeg,
      'lagreel 0.1.0',
      'row readout (type B, common)',
    ]) {
      expect(text).toContain(words);
    }
  });

  it('is the same bytes again, also with frozen input, and works without pictures', () => {
    expect(renderReport(deepFreeze(normalRecord()), evidenceOf(record, 24))).toBe(page);
    const bare = renderReport(record, { overviewJpeg: null, presses: new Map() });
    expect(bare).toContain('made without the pictures');
    readMarkup(bare);
  });

  it('cannot be broken out of', () => {
    const hostile = renderReport(records.hostile!, evidenceOf(records.hostile!, 8));
    expect(hostile).not.toContain('<script');
    // biome-ignore lint/suspicious/noControlCharactersInRegex: these must not be there
    expect(hostile).not.toMatch(/[\u0000-\u0008\u000E-\u001F\u202A-\u202E]/);
    expect(unescaped(hostile)).toContain(HOSTILE.slice(0, 20));
  });

  it('with 60 presses of 3 regions and 24 frames takes less than 3 s and 8 MB', () => {
    const large = recordOf({ presses: 60, delaysMs: { a: 60, b: 70, c: 140 } });
    const evidence = evidenceOf(large, 24);
    const startedAtMs = performance.now();
    const html = renderReport(large, evidence);
    expect(performance.now() - startedAtMs).toBeLessThan(3000);
    expect(Buffer.byteLength(html)).toBeLessThan(8e6);
  });
});
