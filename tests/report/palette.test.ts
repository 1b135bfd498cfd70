import { createHash } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import {
  contrastRatio,
  darkPalette,
  lightPalette,
  surfaceTokens,
  textTokens,
} from '../../src/report/palette.js';
import { cspHash, sha256 } from '../../src/report/sha256.js';

// WCAG 2.2 success criterion 1.4.3: 4.5 for text.
const AA_TEXT = 4.5;

describe('palette', () => {
  it('computes the contrast ratio by the formula of WCAG', () => {
    expect(contrastRatio('#000000', '#ffffff')).toBeCloseTo(21, 10);
    expect(contrastRatio('#ffffff', '#ffffff')).toBe(1);
    // Grey #767676 on white is the known edge of AA: 4.54.
    expect(contrastRatio('#767676', '#ffffff')).toBeCloseTo(4.54, 2);
    expect(contrastRatio('#777777', '#ffffff')).toBeLessThan(AA_TEXT);
  });

  for (const [scheme, palette] of Object.entries({ light: lightPalette, dark: darkPalette })) {
    for (const text of textTokens) {
      it.each(surfaceTokens.map((s) => [s]))(`${scheme}: ${text} on %s is at least 4.5`, (surface) => {
        expect(contrastRatio(palette[text], palette[surface])).toBeGreaterThanOrEqual(AA_TEXT);
      });
    }
  }
});

describe('sha256', () => {
  it.each(['', 'abc', 'a'.repeat(55), 'a'.repeat(56), 'b'.repeat(64), 'é日🎮'.repeat(1000)])(
    'agrees with Node for %#',
    (text) => {
      expect(Buffer.from(sha256(text)).toString('hex')).toBe(createHash('sha256').update(text).digest('hex'));
      expect(cspHash(text)).toBe(`sha256-${createHash('sha256').update(text).digest('base64')}`);
    },
  );
});
