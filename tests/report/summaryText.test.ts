import { describe, expect, it } from 'vitest';
import { renderInspect } from '../../src/report/inspectText.js';
import { plainText } from '../../src/report/plainText.js';
import { renderSummary } from '../../src/report/summaryText.js';
import { columnsOf, wrap } from '../../src/report/terminal.js';
import {
  HOSTILE,
  hostileRecord,
  noResponseRecord,
  normalRecord,
  onePressRecord,
  recordOf,
  unknownExposureRecord,
} from './fixtures.js';

const plain = { colour: false, width: 130 };
// biome-ignore lint/suspicious/noControlCharactersInRegex: these must not be there
const FORBIDDEN = /[\u0000-\u0009\u000B-\u001F\u007F-\u009F\u202A-\u202E\u2066-\u2069]/;

describe('renderSummary', () => {
  it('puts the answer first, with fixed delay, typical press, worst press and jitter', () => {
    const lines = renderSummary(normalRecord(), plain).split('\n');
    expect(lines[0]).toBe('top · chain: Birch · mode: 240p · display: tube');
    expect(lines[1]).toContain('This chain adds a fixed 60.1 ms');
    expect(lines[2]).toMatch(
      /fixed delay +60\.1 ms \(95 % interval 59\.2 to 60\.9 ms; 3\.61 display frames\)/,
    );
    // 60.1 + 16.667 / 2 and 60.1 + 16.667
    expect(lines[3]).toMatch(/typical press +68\.4 ms .*4\.11 display frames/);
    expect(lines[4]).toMatch(/worst explained by the wait +76\.8 ms \(wait of up to 16\.67 ms, stated/);
    expect(lines[5]).toMatch(/jitter +0\.2 ms \(95 % interval 0\.0 to 0\.7 ms; lag fixed\)/);
  });

  it('shows every statistic in ms and in display frames', () => {
    const record = normalRecord();
    const text = renderSummary(record, plain);
    const s = record.summary.bottom!;
    const row = text.split('\n').find((line) => /^bottom +ms/.test(line)) ?? '';
    const wanted = [
      s.minimumMs,
      s.medianMs,
      s.meanMs,
      s.sdMs ?? 0,
      s.quantilesMs.p05,
      s.quantilesMs.p95,
      s.maximumMs,
    ];
    for (const ms of wanted) expect(row).toContain(ms.toFixed(2));
    expect(row).toContain(`[${s.medianIntervalMs![0].toFixed(2)}, ${s.medianIntervalMs![1].toFixed(2)}]`);
    const inFrames = text.split('\n').find((line) => /^bottom +display frames/.test(line)) ?? '';
    for (const ms of wanted) expect(inFrames).toContain((ms / (1000 / 60)).toFixed(2));
  });

  it('counts the presses and says how the time was known', () => {
    const text = renderSummary(normalRecord(), plain);
    expect(text).toContain(
      '12 measured, 1 without response, 0 ambiguous, 1 excluded, 1 unprompted change of a screen.',
    );
    expect(text).toContain("Filmed at 240.00 camera frames per second, from the clip's own capture-rate tag");
  });

  it('names what to worry about, worst first', () => {
    const text = renderSummary(unknownExposureRecord(), plain);
    const at = (words: string): number => text.indexOf(words);
    expect(text).toContain('usable with care');
    expect(at('! The exposure could not be found')).toBeGreaterThan(0);
    expect(at('! Region screen: The presses keep time')).toBeGreaterThan(0);
    expect(at('- Only 9 presses')).toBeGreaterThan(at('! Region screen'));
    expect(text).toContain('The exposure is unknown (95 % interval 20 % to 100 %)');
    expect(text).not.toContain('display frames');
  });

  it('says so where nothing was measured or one press only', () => {
    expect(renderSummary(noResponseRecord(), plain)).toContain('Nothing could be measured in region screen.');
    const one = renderSummary(onePressRecord(), plain);
    expect(one).toMatch(/median +48\.3 ms \(too few presses for an interval/);
    expect(one).not.toContain('NaN');
  });

  it.each([40, 60, 80, 100, 200])('stays within %i columns', (width) => {
    for (const record of [normalRecord(), onePressRecord(), hostileRecord(), unknownExposureRecord()]) {
      for (const line of renderSummary(record, { colour: false, width }).split('\n')) {
        expect(columnsOf(line)).toBeLessThanOrEqual(width);
      }
    }
  });

  it('strips control and reordering characters of strings from files', () => {
    const text = renderSummary(hostileRecord(), plain);
    expect(text).toContain('alert("1")');
    expect(text).not.toMatch(FORBIDDEN);
  });

  it('differs with colour only by escape sequences', () => {
    const coloured = renderSummary(normalRecord(), { colour: true, width: 130 });
    expect(coloured).toContain('\u001B[1;36m60.1 ms\u001B[22;39m');
    expect(plainText(coloured.replaceAll('\n', '|'))).toBe(
      renderSummary(normalRecord(), plain).replaceAll('\n', '|'),
    );
  });

  it('does not break on a region called like a built-in property', () => {
    const record = recordOf({ presses: 3, delaysMs: { constructor: 50 }, noResponse: [1, 2, 3] });
    expect(renderSummary(record, plain)).toContain('Nothing could be measured in region constructor.');
  });
});

describe('plainText', () => {
  it.each([
    ['a\u001B[31mb\u001B[0m', 'ab'],
    ['a\u001B]8;;https://example.invalid\u0007b\u001B]8;;\u0007c', 'abc'],
    ['a\u009B31mb', 'ab'],
    ['a\u202Eb\u2066c\u200F', 'abc'],
    ['a\r\nb\tc', 'a b c'],
    ['a\u0000\u0007\u007Fb', 'ab'],
    ['a\u{E0041}b\uD800c', 'abc'],
    ['über 日本 🎮', 'über 日本 🎮'],
  ])('%j', (input, output) => {
    expect(plainText(input)).toBe(output);
  });
});

describe('wrap', () => {
  it('cuts words longer than a line and keeps the indent', () => {
    expect(wrap('one two abcdefghijklmnop', 10, '  ')).toEqual(['  one two', '  abcdefgh', '  ijklmnop']);
    expect(columnsOf('日本e\u0301')).toBe(5);
  });
});

describe('renderInspect', () => {
  it('aligns values, wraps notes, and strips what a file may hide', () => {
    const text = renderInspect(
      {
        title: `birch\u001B[2J.mp4`,
        sections: [
          { title: 'Clip', rows: [{ label: 'codec', value: 'h264', notes: [] }] },
          {
            title: 'Clock',
            rows: [
              {
                label: 'capture rate',
                value: '240 Hz',
                notes: ['Taken from the tag, and the timestamps agree with it.'],
              },
              { label: HOSTILE, value: HOSTILE, notes: [HOSTILE] },
            ],
          },
        ],
      },
      { colour: false, width: 60 },
    );
    const lines = text.split('\n');
    expect(lines[0]).toBe('birch.mp4');
    const column = (words: string): number => lines.find((l) => l.includes(words))!.indexOf(words);
    expect(column('h264')).toBe(column('240 Hz'));
    expect(column('Taken from')).toBe(column('240 Hz'));
    expect(text).not.toMatch(FORBIDDEN);
    for (const line of lines) expect(columnsOf(line)).toBeLessThanOrEqual(60);
  });
});
