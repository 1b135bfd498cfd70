import { describe, expect, it } from 'vitest';
import {
  contrastRatio,
  darkPalette,
  lightPalette,
  surfaceTokens,
  textTokens,
} from '../../src/report/palette.js';
import { cspHash } from '../../src/report/styleHash.js';

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

describe('the hash of a style sheet', () => {
  // FIPS 180-4, example of one block, and the checksum of nothing; base64 by `openssl dgst -sha256 -binary | base64`.
  it.each([
    ['', '47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='],
    ['abc', 'ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0='],
  ])('of %j is as published', (text, base64) => {
    expect(cspHash(text)).toBe(`sha256-${base64}`);
  });
});
