/**
 * Bad input through the real program: one clear sentence, the right exit code, nothing left behind.
 * Root passes permissions, so the read-only folder is tried in two ways: in a folder in which no file may be made by
 * anybody (`/proc`), and in one without write permission as a user who is not root.
 */
import { chmodSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { encodeRawVideo } from '../../src/clip/encode.js';
import { runFfmpeg } from '../../src/clip/ffmpeg.js';
import { copySample, type Ended, lagreel, listing, type RunOptions, sample, scratch } from './program.js';

const WIDTH_PX = 320;
const HEIGHT_PX = 180;
const made = scratch();

/** Grey pictures with a little noise: a room in which nothing happens. */
function* stillRoom(frames: number): Generator<Uint8Array> {
  let state = 12345;
  for (let index = 0; index < frames; index++) {
    const picture = new Uint8Array((WIDTH_PX * HEIGHT_PX * 3) / 2).fill(128);
    for (let i = 0; i < WIDTH_PX * HEIGHT_PX; i++) {
      state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
      picture[i] = 90 + (state >>> 29);
    }
    yield picture;
  }
}

async function makeRoom(path: string, rateHz: number, frames: number): Promise<void> {
  await encodeRawVideo({
    widthPx: WIDTH_PX,
    heightPx: HEIGHT_PX,
    pixelFormat: 'yuv420p',
    rateHz,
    frames: stillRoom(frames),
    outputPath: path,
    outputOptions: ['-c:v', 'libx264', '-preset', 'veryfast', '-crf', '20', '-pix_fmt', 'yuv420p'],
  });
}

async function ffmpeg(...args: string[]): Promise<void> {
  const { exitCode, messages } = await runFfmpeg({ args: ['-y', ...args], onOutput: [] });
  if (exitCode !== 0) throw new Error(messages);
}

/** Offset and size of a top-level box of an MP4 file. */
function boxAt(file: Buffer, type: string): { readonly offset: number; readonly size: number } {
  for (let offset = 0; offset < file.length; offset += file.readUInt32BE(offset)) {
    if (file.toString('latin1', offset + 4, offset + 8) === type)
      return { offset, size: file.readUInt32BE(offset) };
  }
  throw new Error(`no box ${type}`);
}

beforeAll(async () => {
  const at = (name: string) => join(made, name);
  await makeRoom(at('room-240.mp4'), 240, 360);
  await makeRoom(at('room-30.mp4'), 30, 60);
  await ffmpeg('-f', 'lavfi', '-i', 'sine=d=1', '-c:a', 'aac', at('sound.mp4'));
  await ffmpeg('-f', 'lavfi', '-i', 'testsrc=s=320x180', '-frames:v', '1', at('still.png'));
  await ffmpeg('-i', at('still.png'), at('still.jpg'));
  // The index in front, as streaming copies have it, so that a copy broken off still shows its first frames.
  await ffmpeg('-i', sample('alder-flat.mp4'), '-c', 'copy', '-movflags', '+faststart', at('front.mp4'));
  const front = readFileSync(at('front.mp4'));
  const { offset, size } = boxAt(front, 'mdat');
  writeFileSync(at('cut-data.mp4'), front.subarray(0, offset + (size >> 1)));
  const whole = readFileSync(sample('alder-flat.mp4'));
  writeFileSync(at('no-index.mp4'), whole.subarray(0, boxAt(whole, 'moov').offset));
});

interface BadCase {
  readonly what: string;
  /** Prepares the folder and gives the arguments after it. */
  readonly args: (folder: string) => readonly string[];
  readonly code: number;
  /** Name that the sentence must hold. */
  readonly names: string;
  readonly says: RegExp;
  readonly options?: RunOptions;
}

function place(folder: string, from: string, name: string): string {
  const path = join(folder, name);
  writeFileSync(path, readFileSync(join(made, from)));
  return path;
}

function text(folder: string, name: string, content: string): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

/** A sample's recipe, changed. */
function recipeWith(name: string, change: Readonly<Record<string, unknown>>): string {
  return JSON.stringify({ ...JSON.parse(readFileSync(sample(`${name}.recipe.json`), 'utf8')), ...change });
}

/** `measure` on a copy of the Alder clip with this text as its recipe. */
function withRecipe(content: (folder: string) => string): BadCase['args'] {
  return (folder) => {
    text(folder, 'alder-flat.recipe.json', content(folder));
    return ['measure', copySample('alder-flat', folder)];
  };
}

const CASES: readonly BadCase[] = [
  {
    what: 'no such file',
    args: (folder) => ['measure', join(folder, 'nowhere.mp4')],
    code: 3,
    names: 'nowhere.mp4',
    says: /no file .*check the path/,
  },
  {
    what: 'a folder without clips',
    args: (folder) => {
      mkdirSync(join(folder, 'clips.mp4'));
      return ['measure', join(folder, 'clips.mp4')];
    },
    code: 3,
    names: 'clips.mp4',
    says: /there is no clip in the folder/,
  },
  {
    what: 'a text file named .mp4',
    args: (folder) => ['measure', text(folder, 'notes.mp4', 'press, wait, press\n')],
    code: 3,
    names: 'notes.mp4',
    says: /is a text file, not a video/,
  },
  {
    what: 'an empty file',
    args: (folder) => ['measure', text(folder, 'nothing.mp4', '')],
    code: 3,
    names: 'nothing.mp4',
    says: /is empty .*copy it again/,
  },
  {
    what: 'a clip without its index',
    args: (folder) => ['measure', place(folder, 'no-index.mp4', 'broken.mp4')],
    code: 3,
    names: 'broken.mp4',
    says: /no index .*broken off.*copy it again/,
  },
  {
    what: 'sound only',
    args: (folder) => ['measure', place(folder, 'sound.mp4', 'sound.mp4')],
    code: 3,
    names: 'sound.mp4',
    says: /sound but no picture; give/,
  },
  {
    what: 'a JPEG named .mp4',
    args: (folder) => ['measure', place(folder, 'still.jpg', 'photo.mp4')],
    code: 3,
    names: 'photo.mp4',
    says: /JPEG still picture, not a video/,
  },
  {
    what: 'a PNG named .mp4',
    args: (folder) => ['measure', place(folder, 'still.png', 'photo.mp4')],
    code: 3,
    names: 'photo.mp4',
    says: /PNG still picture, not a video/,
  },
  {
    what: 'a clip without any press, nothing known',
    args: (folder) => ['measure', place(folder, 'room-240.mp4', 'room.mp4')],
    code: 4,
    names: 'room.mp4',
    says: /no LED and screen .*--region led=led:/,
  },
  {
    what: 'a clip without any press, regions given, results to a new folder',
    args: (folder) => [
      ...['measure', place(folder, 'room-240.mp4', 'room.mp4'), '--out', join(folder, 'new', 'results')],
      ...['--region', 'led=led:10,10,24,24', '--region', 'top=screen:100,40,80,60'],
    ],
    code: 4,
    names: 'room.mp4',
    says: /no press was seen/,
  },
  {
    what: 'a region outside the picture, by option',
    args: (folder) => [
      ...['measure', copySample('alder-flat', folder)],
      ...['--region', 'led=led:470,10,24,24', '--region', 'top=screen:300,116,48,36'],
    ],
    code: 2,
    names: 'alder-flat.mp4',
    says: /region "led" .* outside .*480 x 270 px: choose/,
  },
  {
    what: 'a region outside the picture, in the recipe',
    args: withRecipe(() =>
      recipeWith('alder-flat', {
        regions: [
          { name: 'led', role: 'led', x: 80, y: 122, width: 24, height: 24 },
          { name: 'far', role: 'screen', x: 300, y: 260, width: 48, height: 36 },
        ],
      }),
    ),
    code: 2,
    names: 'alder-flat.mp4',
    says: /region "far" .* outside .*480 x 270 px: choose/,
  },
  {
    what: 'the recipe of another clip beside the clip',
    args: withRecipe(() => recipeWith('bench-tube', {})),
    code: 2,
    names: 'alder-flat.recipe.json',
    says: /recipe of another clip \(bench-tube\.mp4.*--recipe/,
  },
  {
    what: 'the recipe of another clip, named',
    args: (folder) => [
      ...['measure', copySample('alder-flat', folder)],
      ...['--recipe', sample('bench-tube.recipe.json')],
    ],
    code: 2,
    names: 'bench-tube.recipe.json',
    says: /recipe of another clip/,
  },
  {
    what: 'a recipe with an unknown key',
    args: withRecipe(() => recipeWith('alder-flat', { display: { refreshHz: 60, refreshhz: 50 } })),
    code: 3,
    names: 'alder-flat.recipe.json',
    says: /unknown key "refreshhz" at display; correct or remove it/,
  },
  {
    what: 'a recipe that is no JSON',
    args: withRecipe(() => '{ "format": "lagreel-recipe",\n  "version": 1,\n'),
    code: 3,
    names: 'alder-flat.recipe.json',
    says: /not valid JSON/,
  },
  {
    what: 'a recipe of a later version',
    args: withRecipe(() => recipeWith('alder-flat', { version: 2 })),
    code: 3,
    names: 'alder-flat.recipe.json',
    says: /recipe version 2.*use a newer lagreel/,
  },
  {
    what: 'a record given as a recipe',
    args: withRecipe(() => JSON.stringify({ format: 'lagreel-record', version: 1 })),
    code: 3,
    names: 'alder-flat.recipe.json',
    says: /"lagreel-record", expected "lagreel-recipe"/,
  },
  {
    what: 'a recipe that is not there',
    args: (folder) => ['measure', copySample('alder-flat', folder), '--recipe', join(folder, 'mine.json')],
    code: 3,
    names: 'mine.json',
    says: /there is no recipe .*check the path/,
  },
  {
    what: 'a folder as a recipe',
    args: (folder) => ['measure', copySample('alder-flat', folder), '--recipe', folder],
    code: 3,
    names: 'alder-flat.mp4',
    says: /is a folder: give a recipe file/,
  },
  {
    what: 'results into a folder in which nobody may make a file',
    args: (folder) => ['measure', copySample('alder-flat', folder), '--out', '/proc'],
    code: 2,
    names: '/proc',
    says: /cannot write into the folder .*--out FOLDER/,
  },
  {
    what: 'results into a folder that cannot be made',
    args: (folder) => ['measure', copySample('alder-flat', folder), '--out', '/proc/lagreel/results'],
    code: 2,
    names: '/proc/lagreel/results',
    says: /cannot write into the folder .*--out FOLDER/,
  },
  {
    what: 'results below a file',
    args: (folder) => [
      ...['measure', copySample('alder-flat', folder)],
      ...['--out', join(text(folder, 'file', 'x'), 'results')],
    ],
    code: 2,
    names: 'results',
    says: /a part of the path is a file, not a folder\): choose another folder/,
  },
  {
    what: 'a simulated clip into a folder that cannot be made',
    args: () => ['simulate', 'flash', '--presses', '1', '-o', '/proc/lagreel/demo.mp4'],
    code: 2,
    names: '/proc/lagreel',
    says: /cannot write into the folder .*-o FOLDER/,
  },
  {
    what: 'a clip that plays at 30 fps and does not say how fast it was filmed',
    args: (folder) => ['measure', place(folder, 'room-30.mp4', 'slow.mp4')],
    code: 4,
    names: 'slow.mp4',
    says: /does not say how fast it was filmed.*--capture-rate/,
  },
  {
    what: 'an FFmpeg that is not there',
    args: (folder) => ['measure', copySample('alder-flat', folder)],
    code: 3,
    names: '/nope',
    says: /LAGREEL_FFMPEG.*set it to a working ffmpeg/,
    options: { env: { LAGREEL_FFMPEG: '/nope' } },
  },
  ...(
    [
      ['unknown command', ['mesure', 'clip.mp4'], 'mesure', /unknown command .*lagreel --help/],
      ['missing argument', ['measure'], 'clip', /missing required argument .*lagreel measure --help/],
      ['unknown option', ['measure', 'a.mp4', '--rate', '9'], '--rate', /unknown option .*--help/],
      ['no number', ['measure', 'a.mp4', '--refresh', 'fast'], '--refresh', /from 1 to 1000, got "fast"/],
      ['number out of range', ['measure', 'a.mp4', '--exposure', '1.5'], '--exposure', /from 0.005 to 1/],
      [
        'broken region',
        ['measure', 'a.mp4', '--region', 'led:1,2'],
        '--region',
        /name=role:x,y,width,height/,
      ],
      ['broken window', ['measure', 'a.mp4', '--window', '500:0'], '--window', /from:to in ms/],
      ['broken label', ['measure', 'a.mp4', '--label', 'Birch'], '--label', /key=value/],
      ['unknown edge', ['measure', 'a.mp4', '--edge', 'up'], '--edge', /press, release/],
      ['one clip twice', ['measure', 'a.mp4', './a.mp4'], 'a.mp4', /would both write/],
      ['unknown scene', ['simulate', 'spark', '-o', 'a.mp4'], 'spark', /flash, toggle/],
      ['no output', ['simulate', 'flash'], '--output', /required option/],
      ['output that is no MP4', ['simulate', 'flash', '-o', 'a.mov'], 'a.mov', /written as NAME.mp4/],
      ['odd size', ['simulate', 'flash', '-o', 'a.mp4', '--size', '481x270'], '--size', /even px/],
    ] as const
  ).map(([what, args, names, says]) => ({ what, args: () => args, code: 2, names, says })),
];

function expectOneSentence(ended: Ended): void {
  expect(ended.said, ended.err).toHaveLength(1);
  expect(ended.said[0]).toMatch(/^lagreel: /);
  expect(ended.err).not.toMatch(/^\s+at .*:\d+/m);
  expect(ended.err).not.toContain('a fault of lagreel');
  expect(ended.out).toBe('');
}

describe('bad input gives one sentence, its exit code, and leaves nothing behind', () => {
  it.each(CASES)('$what: exit $code', async ({ args, code, names, says, options }) => {
    const folder = scratch();
    const given = args(folder);
    const before = listing(folder);
    const ended = await lagreel(given, { cwd: folder, ...options });
    expect(ended.code, ended.err).toBe(code);
    expectOneSentence(ended);
    expect(ended.said[0]).toContain(names);
    expect(ended.said[0]).toMatch(says);
    expect(listing(folder)).toEqual(before);
  });

  // Needs a checkout that another user may read where the tests run as root.
  it('a folder without write permission: exit 2', async () => {
    const folder = scratch();
    const clip = copySample('alder-flat', folder);
    chmodSync(folder, 0o555);
    const asNobody = process.getuid?.() === 0 ? { uid: 65534 } : {};
    const ended = await lagreel(['measure', clip], asNobody);
    chmodSync(folder, 0o755);
    expect(ended.code, ended.err).toBe(2);
    expectOneSentence(ended);
    expect(ended.said[0]).toMatch(/cannot write into the folder .*\(no permission\): .*--out FOLDER/);
    expect(listing(folder)).toEqual(['alder-flat.mp4']);
  });

  it('without any argument: the help, exit 2', async () => {
    const ended = await lagreel([]);
    expect(ended.code).toBe(2);
    expect(ended.err).toMatch(/^Usage: lagreel/);
  });
});

describe('what is not fit but can be said', () => {
  it('a clip cut off in its pictures is measured as far as it goes, and says so', async () => {
    const folder = scratch();
    const clip = place(folder, 'cut-data.mp4', 'half.mp4');
    // The copy that was cut has lost its tag.
    const known = ['--recipe', text(folder, 'pattern.json', pattern()), '--capture-rate', '240'];
    const ended = await lagreel(['measure', clip, ...known, '--json']);
    expect(ended.code, ended.err).toBe(0);
    const record = JSON.parse(ended.out);
    expect(record.clip.frames).toBeLessThan(1500);
    expect(record.presses.length).toBeGreaterThan(3);
    expect(record.presses.length).toBeLessThan(14);
    expect(record.warnings.join(' ')).toMatch(/cut short: \d+ of \d+ frames/);
  });

  it('inspect says that the rate is not known, and how to state it; exit 0', async () => {
    const folder = scratch();
    const clip = place(folder, 'room-30.mp4', 'slow.mp4');
    const plain = await lagreel(['inspect', clip], { cwd: folder });
    expect(plain.code, plain.err).toBe(0);
    expect(plain.out).toMatch(/Capture rate +not known/);
    expect(plain.out.replace(/\s+/g, ' ')).toMatch(
      /slow\.mp4 runs at 30\S* fps and does not say how fast it was filmed.*--capture-rate 240/,
    );
    const json = await lagreel(['inspect', clip, '--json'], { cwd: folder });
    expect(json.code).toBe(0);
    expect(JSON.parse(json.out)).toMatchObject({ timing: null, fitness: { class: 'unfit' } });
    expect(listing(folder)).toEqual(['slow.mp4']);
  });
});

/** The Alder recipe for any clip. */
function pattern(): string {
  return recipeWith('alder-flat', { clip: { file: '', sha256: '', bytes: 0 } });
}
