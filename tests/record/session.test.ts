import { describe, expect, it } from 'vitest';
import { parseSession } from '../../src/record/session.js';

describe('session.csv', () => {
  it('file and any label columns; empty cells are no labels', () => {
    const text = 'file,chain,mode\r\ndirect.mp4,Direct,240p\r\n"odd, name.mp4",Alder,\r\n';
    expect(parseSession(text, 'session.csv')).toEqual([
      { file: 'direct.mp4', labels: { chain: 'Direct', mode: '240p' }, regionLabels: {} },
      { file: 'odd, name.mp4', labels: { chain: 'Alder' }, regionLabels: {} },
    ]);
  });
  it('semicolons, a byte-order mark and spaces of a spreadsheet', () => {
    expect(parseSession('\ufefffile; chain \n a.mp4 ; Birch \n\n', 's')).toEqual([
      { file: 'a.mp4', labels: { chain: 'Birch' }, regionLabels: {} },
    ]);
  });
  it('a column region labels single regions of a clip', () => {
    const text = 'file,region,chain,mode\na.mp4,left,Direct,\na.mp4,right,Birch,\na.mp4,,,240p\n';
    expect(parseSession(text, 's')).toEqual([
      {
        file: 'a.mp4',
        labels: { mode: '240p' },
        regionLabels: { left: { chain: 'Direct' }, right: { chain: 'Birch' } },
      },
    ]);
  });
  it.each([
    ['clip,chain\na.mp4,Birch\n', 'has no column "file"'],
    ['', 'has no column "file"'],
    ['file,chain,chain\na.mp4,x,y\n', 'two columns "chain"'],
    ['file,,chain\na.mp4,x,y\n', 'a column without a name (number 2)'],
    ['file,chain\n,Birch\n', 'names no file in row 2'],
    ['file,chain\na.mp4,Birch\na.mp4,Alder\n', 'names a.mp4 again in row 3'],
    ['file,region,chain\na.mp4,l,Birch\na.mp4,l,Alder\n', 'names region l of a.mp4 again in row 3'],
    ['file,chain\na.mp4,Birch,more\n', 'is not a table'],
    ['file,chain\na.mp4,"Birch\n', 'is not a table'],
  ])('refuses %j', (text, message) => {
    expect(() => parseSession(text, 'session.csv')).toThrow(message);
  });
});

it('takes labels and regions of any name, those of JavaScript objects too', () => {
  const text =
    'file,region,chain,__proto__,constructor\na.mp4,constructor,Alder,x,y\na.mp4,__proto__,Birch,,\n';
  const [clip] = parseSession(text, 'session.csv');
  expect(Object.keys(clip!.regionLabels)).toEqual(['constructor', '__proto__']);
  expect(Object.entries(clip!.regionLabels.constructor!)).toEqual([
    ['chain', 'Alder'],
    ['__proto__', 'x'],
    ['constructor', 'y'],
  ]);
  expect(({} as Record<string, unknown>).chain).toBeUndefined();
});
