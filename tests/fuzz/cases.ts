/** One case of the fuzzer by its number: which file, which command. */
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import type { Bases } from './bases.js';
import { hostileCommand, hostileJson, hostileSession } from './documents.js';
import { type Draws, drawsOf } from './draws.js';
import { runHere } from './judge.js';
import { mutateClip } from './mutateClip.js';

/** What to run, in the case's folder. */
export interface FuzzCase {
  /** What was done to the input. */
  readonly what: string;
  readonly argv: readonly string[];
  /** Text of the input, where it is text. */
  readonly input: string;
}

const AWKWARD_NAMES = [
  '-x',
  'a:b',
  'concat:a|b',
  'pipe:0',
  '%03d',
  "it's",
  'with space',
  'é\u0301',
  '\u202egnp',
  'a\u001b[31m',
  'n\nl',
  'x'.repeat(180),
];

/** Writes clip case `i` and says how to run it. */
export function clipCase(bases: Bases, seed: number, i: number, folder: string): FuzzCase {
  const draws = drawsOf(seed, 1, i);
  const base = draws.pick(bases.clips.flatMap((clip) => Array.from({ length: clip.weight }, () => clip)));
  const other = readFileSync(draws.pick(bases.clips).path);
  const { bytes, ways } = mutateClip(readFileSync(base.path), other, draws);
  const stem = draws.chance(0.1) ? draws.pick(AWKWARD_NAMES) : 'clip';
  const path = join(folder, `${stem}${base.ending}`);
  writeFileSync(path, bytes);
  const what = `${base.path.split('/').at(-1)}: ${ways.join(', ')}`;
  return { what, argv: commandFor(path, base.regions, draws), input: '' };
}

function commandFor(path: string, regions: readonly string[], draws: Draws): string[] {
  const out = ['--out', join(path, '..', 'out'), '--no-cache'];
  const roll = draws.next();
  const rate = draws.chance(0.3) ? ['--capture-rate', draws.pick(['240', '120', '60', '4000'])] : [];
  if (roll < 0.35) return ['inspect', path, ...regions, ...rate, ...(draws.chance(0.5) ? ['--json'] : [])];
  if (roll < 0.85)
    return [
      'measure',
      path,
      ...regions,
      ...rate,
      ...out,
      ...(draws.chance(0.5) ? ['--json', '--quiet'] : []),
    ];
  if (roll < 0.95) return ['measure', path, ...rate, ...out];
  if (roll < 0.98)
    return ['calibrate', path, '--light', draws.pick(['100', '1000']), '-o', join(path, '..', 'camera.json')];
  return ['annotate', path, '-o', join(path, '..', 'film.mp4'), '--quiet'];
}

/** Long options of each command with their placeholders, out of its help. */
export async function commandOptions(): Promise<Record<string, string[]>> {
  const { out } = await runHere(['--help']);
  const names = [...out.matchAll(/^ {2}(\w+) \[options\]/gm)].map((m) => m[1]!);
  const options: Record<string, string[]> = {};
  for (const name of names) {
    const help = (await runHere([name, '--help'])).out;
    options[name] = [...help.matchAll(/(--[a-z][\w-]*)( <[^>]+>)?/g)].map(
      (m) => m[1]! + (m[2] ? ' <value>' : ''),
    );
  }
  return options;
}

/** The i-th value of an arbitrary. */
function draw<T>(arbitrary: fc.Arbitrary<T>, seed: number, i: number): T {
  return fc.sample(arbitrary, {
    seed: (Math.imul(seed, 0x9e3779b1) ^ Math.imul(i + 1, 0x85ebca6b)) | 0,
    numRuns: 1,
  })[0]!;
}

/** Writes document case `i` and says how to run it. */
export function documentCase(
  bases: Bases,
  commands: Readonly<Record<string, readonly string[]>>,
  seed: number,
  i: number,
  folder: string,
): FuzzCase {
  const draws = drawsOf(seed, 2, i);
  const at = (name: string) => join(folder, name);
  const put = (name: string, text: string) => {
    writeFileSync(at(name), text);
    return at(name);
  };
  const clip = bases.clips[0]!;
  const roll = draws.next();
  const view = draws.chance(0.5) ? ['--json'] : [];
  if (roll < 0.2) {
    const input = draw(
      hostileJson(bases.recipe.replace(/"sha256": "[0-9a-f]{64}"/, '"sha256": ""')),
      seed,
      i,
    );
    const recipe = put('mutated.recipe.json', input);
    const argv = draws.chance(0.6)
      ? ['inspect', clip.path, '--recipe', recipe, ...view]
      : ['measure', clip.path, '--recipe', recipe, '--out', at('out'), ...view];
    return { what: 'recipe', argv, input };
  }
  if (roll < 0.24) {
    const input = draw(hostileJson(bases.camera), seed, i);
    const argv = [
      'measure',
      clip.path,
      ...clip.regions,
      '--camera',
      put('camera.json', input),
      '--out',
      at('out'),
    ];
    return { what: 'camera file', argv: [...argv, ...view], input };
  }
  if (roll < 0.58) {
    const input = draw(hostileJson(bases.records[0]!), seed, i);
    const record = put('Alder.record.json', input);
    put('Birch.record.json', bases.records[1]!);
    if (draws.chance(0.1))
      return { what: 'record, card', argv: ['card', record, '-o', at('card.png')], input };
    const by = draws.pick(['chain', 'mode', 'chain,mode', '__proto__', 'x']);
    const argv = ['compare', folder, '--by', by, '--out', at('out'), ...view];
    return { what: 'record', argv: draws.chance(0.3) ? [...argv, '--baseline', 'chain=Birch'] : argv, input };
  }
  if (roll < 0.74) {
    const input = draw(hostileSession(bases.session), seed, i);
    put('session.csv', input);
    put('Alder.record.json', bases.records[0]!);
    put('Birch.record.json', bases.records[1]!);
    const by = draws.pick(['chain', 'mode', 'region', '__proto__']);
    return { what: 'session', argv: ['compare', folder, '--by', by, ...view], input };
  }
  if (roll < 0.82) {
    const input = draw(hostileJson(bases.comparison), seed, i);
    const comparison = put('comparison.json', input);
    const argv = draws.chance(0.85)
      ? ['board', comparison, '-o', at('board.html')]
      : ['card', comparison, '-o', at('card.png'), ...(draws.chance(0.5) ? ['--tall'] : [])];
    return { what: `comparison, ${argv[0]}`, argv: [...argv, ...view], input };
  }
  mkdirSync(at('empty'));
  const record = put('Alder.record.json', bases.records[0]!);
  const files = [
    clip.path,
    record,
    put('x.recipe.json', bases.recipe),
    folder,
    at('empty'),
    at('none.mp4'),
    at('new.html'),
  ];
  const argv = draw(hostileCommand(commands, files), seed, i);
  // Long films are no fault, so that one goes nowhere.
  const last = argv[0] === 'simulate' ? ['-o', '/proc/nowhere/a.mp4'] : [];
  return {
    what: `command line, ${argv[0]}`,
    argv: [...argv, ...last].filter((a) => !a.includes('\0')),
    input: argv.join(' '),
  };
}
