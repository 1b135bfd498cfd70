/** Hostile documents as fast-check arbitraries: changed JSON, broken text, tables, command lines. */
import fc from 'fast-check';

/** Strings that break out of somewhere. */
export const NASTY_TEXTS: readonly string[] = [
  '',
  ' ',
  '__proto__',
  'constructor',
  'toString',
  'hasOwnProperty',
  '<script>alert(1)</script>',
  '"><img src=x onerror=alert(1)>',
  '</style></script><svg onload=alert(1)>',
  "' onmouseover='x",
  '&lt;b&gt;',
  '=HYPERLINK("http://x","y")',
  '+1+cmd|x',
  '-2+3',
  '@SUM(A1)',
  '\tx',
  '\u001b[31mred\u001b[0m',
  '\u001b]0;title\u0007',
  '\u009b2J',
  '\u202egpj.exe',
  '\u2066hidden\u2069',
  'a\u0000b',
  'line\r\nbreak',
  '\u2028\u2029',
  '\ud800',
  '../../etc/passwd',
  '/etc/passwd',
  'C:\\x',
  'x'.repeat(5000),
  '\u0e47'.repeat(200),
  '𝒜'.repeat(300),
  '%s%n%d',
  '$\u007b7*7}',
  '| a | b |',
  '[x](javascript:alert(1))',
  'NaN',
  'null',
];

const oddNumber = fc.constantFrom(
  ...[
    0,
    -0,
    1,
    -1,
    0.5,
    1e-300,
    1e300,
    -1e300,
    2 ** 31,
    2 ** 32,
    2 ** 53,
    2 ** 53 + 2,
    1e-9,
    65_535,
    65_536,
    1e9,
  ],
);
/** Strings: nasty ones, and any Unicode. */
export const anyText = fc.oneof(
  fc.constantFrom(...NASTY_TEXTS),
  fc.string({ unit: 'binary', maxLength: 40 }),
);
const junk: fc.Arbitrary<unknown> = fc.oneof(
  { weight: 4, arbitrary: oddNumber },
  { weight: 4, arbitrary: anyText },
  { weight: 2, arbitrary: fc.constantFrom(null, true, false, [], {}, [[]], [null]) },
  { weight: 1, arbitrary: fc.jsonValue({ maxDepth: 3 }) },
  { weight: 1, arbitrary: fc.double() },
);

type Json = unknown;
type Holder = Record<string, Json> | Json[];

/** One change of a tree. */
interface Change {
  readonly place: number;
  readonly how: 'alike' | 'replace' | 'delete' | 'add' | 'repeat' | 'scale' | 'swap' | 'empty';
  readonly value: unknown;
  readonly key: string;
  readonly factor: number;
}

const change: fc.Arbitrary<Change> = fc.record({
  place: fc.nat(1_000_000),
  how: fc.constantFrom(
    'alike',
    'alike',
    'alike',
    'alike',
    'replace',
    'delete',
    'add',
    'repeat',
    'scale',
    'scale',
    'swap',
    'empty',
  ),
  value: junk,
  key: anyText,
  factor: fc.constantFrom(-1, 0, 1e-6, 0.5, 1.001, 2, 10, 1e6, 1e300),
});

/** Every place of a tree: whose it is, and under which key. */
function placesOf(root: Holder): (readonly [Holder, string])[] {
  const places: (readonly [Holder, string])[] = [];
  const walk = (holder: Holder) => {
    for (const key of Object.keys(holder)) {
      places.push([holder, key]);
      const value = (holder as Record<string, Json>)[key];
      if (typeof value === 'object' && value !== null) walk(value as Holder);
    }
  };
  walk(root);
  return places;
}

function apply(root: Holder, { place, how, value, key, factor }: Change): void {
  const places = placesOf(root);
  if (places.length === 0) return;
  const [holder, name] = places[place % places.length]!;
  const tree = holder as Record<string, Json>;
  const put = (k: string, v: unknown) =>
    Object.defineProperty(tree, k, { value: v, enumerable: true, writable: true, configurable: true });
  if (how === 'alike') {
    // Of the same kind, so that more changes pass the schema and reach what lies behind it.
    const old = tree[name];
    if (typeof old === 'number') put(name, place % 3 === 0 ? Math.round(old * factor) : old * factor);
    else if (typeof old === 'string') put(name, key);
    else if (typeof old === 'boolean') put(name, !old);
    else if (Array.isArray(old)) put(name, place % 2 === 0 ? [...old].reverse() : old.slice(1));
  } else if (how === 'delete') {
    if (Array.isArray(holder)) holder.splice(Number(name), 1);
    else delete tree[name];
  } else if (how === 'add') {
    if (Array.isArray(holder)) holder.push(value);
    else put(key, value);
  } else if (how === 'repeat' && Array.isArray(holder)) {
    const times = Math.min(300, 1 + (place % 400));
    for (let i = 0; i < times; i++) holder.push(structuredClone(holder[Number(name)]));
  } else if (how === 'scale' && typeof tree[name] === 'number') put(name, (tree[name] as number) * factor);
  else if (how === 'swap') {
    const [other, otherName] = places[(place * 7 + 3) % places.length]!;
    put(name, structuredClone((other as Record<string, Json>)[otherName]));
  } else if (how === 'empty')
    put(name, Array.isArray(tree[name]) ? [] : typeof tree[name] === 'string' ? '' : {});
  else put(name, value);
}

/** A JSON text with one to four changes in its tree, which mostly is still JSON. */
export function changedJson(base: string): fc.Arbitrary<string> {
  return fc.array(change, { minLength: 1, maxLength: 4 }).map((changes) => {
    const root = JSON.parse(base) as Holder;
    for (const one of changes) apply(root, one);
    return JSON.stringify(root, null, 2);
  });
}

/** A text broken as text: cut, bytes changed, repeated, deep. */
export function brokenText(base: string): fc.Arbitrary<string> {
  const spot = fc.nat(base.length);
  return fc.oneof(
    spot.map((at) => base.slice(0, at)),
    fc.tuple(spot, anyText).map(([at, text]) => base.slice(0, at) + text + base.slice(at)),
    fc.tuple(spot, fc.nat(200)).map(([at, n]) => base.slice(0, at) + base.slice(at + n)),
    fc.constantFrom('\ufeff', '\u0000', '[', '{"a":', '\n\n').map((text) => text.repeat(3) + base),
    fc.integer({ min: 1, max: 200_000 }).map((n) => '['.repeat(n) + ']'.repeat(n)),
    fc
      .integer({ min: 1, max: 20_000 })
      .map((n) => `${base.trimEnd().slice(0, -1)},"deep":${'['.repeat(n)}${']'.repeat(n)}}`),
    fc.constantFrom('', 'null', '0', '"x"', '[]', '{}', 'NaN', '{"__proto__":{"format":"lagreel-record"}}'),
    fc
      .tuple(fc.constantFrom(':', ',', '"', '0', '.'), anyText)
      .map(([a, b]) => base.replaceAll(a, b.slice(0, 3))),
    anyText,
  );
}

/** Mostly a changed tree, now and then broken text. */
export function hostileJson(base: string): fc.Arbitrary<string> {
  return fc.oneof({ weight: 5, arbitrary: changedJson(base) }, { weight: 1, arbitrary: brokenText(base) });
}

/** A session table: any header, any rows, quotes and separators out of place. */
export function hostileSession(base: string): fc.Arbitrary<string> {
  const cell = fc.oneof(
    fc.constantFrom(
      'file',
      'region',
      'chain',
      'mode',
      'Alder.mp4',
      'Birch.mp4',
      'top',
      'led',
      '"',
      '""',
      '"x"',
      '',
    ),
    anyText,
  );
  const table = fc.tuple(
    fc.constantFrom(',', ',', ';', '\t', '|'),
    fc.constantFrom('\n', '\r\n', '\r'),
    fc.array(fc.constantFrom('file', 'region', 'chain', 'mode', '__proto__', 'constructor', '', 'x'), {
      maxLength: 6,
    }),
    fc.array(fc.array(cell, { maxLength: 7 }), { maxLength: 8 }),
  );
  return fc.oneof(
    table.map(([comma, line, head, rows]) => [head, ...rows].map((row) => row.join(comma)).join(line)),
    brokenText(base),
    fc
      .tuple(cell, cell, cell)
      .map(([a, b, c]) => `file,region,chain\nAlder.mp4,${a},${b}\nBirch.mp4,,${c}\n`),
    fc.integer({ min: 1, max: 3000 }).map((n) => `file,chain\n${'Alder.mp4,x\n'.repeat(n)}`),
    fc.integer({ min: 1, max: 3000 }).map((n) => `file${',c'.repeat(n)}\n`),
  );
}

/** A command line from the options that the help of the command shows. */
export function hostileCommand(
  commands: Readonly<Record<string, readonly string[]>>,
  files: readonly string[],
): fc.Arbitrary<string[]> {
  const value = fc.oneof(
    {
      weight: 3,
      arbitrary: fc.constantFrom(
        ...[
          '60',
          '240',
          '0.9',
          '1',
          '0',
          '-1',
          '1e9',
          '1e400',
          'NaN',
          'Infinity',
          '0x10',
          '2',
          '64',
          '0:500',
          '500:0',
        ],
        ...[
          'chain=Birch',
          'chain',
          'chain,mode',
          'press',
          'release',
          'panel=16.7+-2',
          '160x90',
          'frames',
          '-',
          '--',
        ],
        ...[
          'led=led:28,40,9,9',
          'top=screen:110,42,14,11',
          'x=led:0,0,99999,2',
          'lamp=reference:0,0,20,20',
          'a.mp4',
        ],
      ),
    },
    { weight: 2, arbitrary: fc.constantFrom(...files) },
    { weight: 1, arbitrary: anyText },
  );
  return fc.constantFrom(...Object.keys(commands)).chain((command) =>
    fc.array(fc.tuple(fc.constantFrom(...commands[command]!), value), { maxLength: 6 }).chain((options) =>
      fc
        .tuple(fc.array(value, { maxLength: 3 }), fc.boolean(), fc.array(anyText, { maxLength: 1 }))
        .map(([rest, first, more]) => {
          const words = options.flatMap(([option, v]) =>
            / /.test(option) ? [option.split(' ')[0]!, v] : [option],
          );
          return first ? [command, ...rest, ...words] : [command, ...words, ...rest, ...more];
        }),
    ),
  );
}
