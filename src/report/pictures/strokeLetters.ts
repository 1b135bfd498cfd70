/**
 * Letters as strokes: labels on pictures must come out on a machine that has no fonts. An alphabet of our own on a
 * grid 4 wide and 6 high, y down, baseline at 6; small letters are drawn as capitals.
 */
import { plainText } from '../plainText.js';

// Each glyph: strokes separated by a space; a stroke is a run of grid points, two digits each (x, y).
const GLYPHS: Readonly<Record<string, string>> = {
  A: '0602204246 0444',
  B: '00063645443303 3342413000',
  C: '4130100105163645',
  D: '00062644422000',
  E: '40000646 0333',
  F: '400006 0333',
  G: '41301001051636454323',
  H: '0006 4046 0343',
  I: '1030 2026 1636',
  J: '4045361605',
  K: '0006 400346',
  L: '000646',
  M: '0600234046',
  N: '06004640',
  O: '100105163645413010',
  P: '06003041423303',
  Q: '100105163645413010 2446',
  R: '06003041423303 2346',
  S: '413010010213334445361605',
  T: '0040 2026',
  U: '000516364540',
  V: '002640',
  W: '0016233640',
  X: '0046 4006',
  Y: '002340 2326',
  Z: '00400646',
  '0': '100105163645413010 3115',
  '1': '112026 1636',
  '2': '01103041420646',
  '3': '01103041423323334445361605',
  '4': '36300444',
  '5': '400002324345361605',
  '6': '4130100105163645443303',
  '7': '004016',
  '8': '13020110304142334445361605041333',
  '9': '433313020110304145361605',
  '-': '1333',
  _: '0646',
  '.': '1626',
  '/': '4006',
  ',': '2516',
  ':': '2222 2525',
  '+': '2125 0343',
  '(': '30121436',
  '=': '0242 0444',
  ')': '10323416',
  '#': '1016 3036 0242 0444',
  "'": '2021',
  '!': '2024 2626',
  '?': '01103041422324 2626',
  '&': '46011020310405162644',
  '%': '4006 0000 4646',
  '·': '2323',
  ' ': '',
};

/** What a character without a glyph becomes: an open box, so that nothing disappears. */
const MISSING = '0006464000';

const ADVANCE = 5.6;
const GRID_HEIGHT = 6;

/** Letters that have a glyph of their own. */
export const knownLetters: readonly string[] = Object.keys(GLYPHS);

function glyphsOf(text: string): string[] {
  // Accents are taken off: their base letter is readable, an open box is not.
  const bare = plainText(text).normalize('NFD').replace(/\p{M}/gu, '').toUpperCase();
  return Array.from(bare, (character) => (Object.hasOwn(GLYPHS, character) ? GLYPHS[character]! : MISSING));
}

/** Width of a text at a letter height, in the height's unit. */
export function lettersWidth(text: string, heightPx: number): number {
  const count = glyphsOf(text).length;
  return count === 0 ? 0 : ((count * ADVANCE - (ADVANCE - 4)) * heightPx) / GRID_HEIGHT;
}

/** SVG path data of a text whose upper left corner is at (xPx, yPx); to be stroked, round caps and joins. */
export function lettersPath(text: string, xPx: number, yPx: number, heightPx: number): string {
  const unit = heightPx / GRID_HEIGHT;
  let d = '';
  for (const [i, glyph] of glyphsOf(text).entries()) {
    for (const stroke of glyph.split(' ').filter((s) => s !== '')) {
      for (let k = 0; k < stroke.length; k += 2) {
        const x = xPx + (Number(stroke[k]) + i * ADVANCE) * unit;
        const y = yPx + Number(stroke[k + 1]) * unit;
        d += `${k === 0 ? 'M' : 'L'}${x.toFixed(2)} ${y.toFixed(2)}`;
      }
    }
  }
  return d;
}
