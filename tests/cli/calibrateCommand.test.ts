/** The commands `calibrate` and `plan`, and `measure --camera`, in this process. */
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from '../../src/cli/main.js';
import { parseCamera } from '../../src/record/camera.js';
import { randomFlicker } from '../../src/simulate/randomFlicker.js';
import { encodeFlicker } from '../calibrate/encodeFlicker.js';

const folder = mkdtempSync(join(tmpdir(), 'lagreel-calibrate-test-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function lagreel(...argv: string[]) {
  const said = { out: '', err: '' };
  const code = await run(argv, {
    out: (text) => {
      said.out += text;
    },
    err: (text) => {
      said.err += text;
    },
    colour: false,
    width: 100,
    live: false,
  });
  return { code, ...said };
}

const clip = join(folder, 'led.mp4');
const camera = join(folder, 'new', 'camera.json');
const scene = randomFlicker(3, 1000, (s) => ({
  ...s,
  picture: { widthPx: 120, heightPx: 160, rotationDeg: 0 },
  camera: {
    ...s.camera,
    captureRateHz: 239.9,
    frames: 360,
    exposureFraction: 0.3,
    readoutFraction: 0.6,
    droppedFrames: [],
    drift: null,
  },
}));
beforeAll(() => encodeFlicker(scene, clip, 22));

describe('lagreel calibrate', () => {
  it('writes a camera file, and prints the same as JSON', async () => {
    const { code, out, err } = await lagreel('calibrate', clip, '--light', '1000', '-o', camera, '--json');
    expect({ code, err }).toEqual({ code: 0, err: '' });
    expect(out).toBe(readFileSync(camera, 'utf8'));
    const file = parseCamera(out, 'camera.json');
    expect(file.coded).toEqual({ width: 120, height: 160 });
    expect(Math.abs(file.readoutFraction / 0.6 - 1)).toBeLessThan(0.03);
    expect(Math.abs(file.captureRateHz / 239.9 - 1)).toBeLessThan(2e-4);
    expect(file.measured.clip.file).toBe('led.mp4');
    expect(out).not.toContain(folder);
  });
  it('says it in words', async () => {
    const { code, out } = await lagreel('calibrate', clip, '--light', '1000', '-o', camera);
    expect(code).toBe(0);
    expect(out).toMatch(/Row readout +2\.[45]\d\d ms/);
    expect(out).toContain('120 x 160 coded px');
  });
  it('a light that is not there: one sentence, code 4, no file', async () => {
    const none = join(folder, 'none.json');
    const { code, out, err } = await lagreel('calibrate', clip, '--light', '1111', '-o', none);
    expect({ code, out }).toEqual({ code: 4, out: '' });
    expect(err).toMatch(/^lagreel: led\.mp4.*check --light/);
    expect(existsSync(none)).toBe(false);
  });
  it.each([
    [['--light', '1000', '-o', 'clip.mp4'], /NAME\.json/],
    [['--light', '0', '-o', 'a.json'], /from 1 to 20000/],
    [['-o', 'a.json'], /--light/],
    [['--light', '1000', '--region', 'a=led:1,2,3,4', '-o', 'a.json'], /role reference/],
  ])('wrong usage %j', async (args, what) => {
    const { code, out, err } = await lagreel('calibrate', clip, ...args);
    expect({ code, out }).toEqual({ code: 2, out: '' });
    expect(err).toMatch(what);
  });
});

describe('lagreel measure --camera', () => {
  it('refuses what is no camera file, or is not there', async () => {
    const bad = join(folder, 'bad.json');
    writeFileSync(bad, '{"format":"lagreel-camera","version":1,"lense":2}');
    const wrong = await lagreel('measure', clip, '--camera', bad);
    expect(wrong.code).toBe(3);
    expect(wrong.err).toContain('bad.json is not a valid camera file');
    const none = await lagreel('measure', clip, '--camera', join(folder, 'gone.json'));
    expect(none.code).toBe(3);
    expect(none.err).toContain('there is no camera file');
  });
});

describe('lagreel plan', () => {
  it('predicts, in words and as JSON', async () => {
    const words = await lagreel('plan', '--capture-rate', '240', '--refresh', '60', '--presses', '20');
    expect(words).toMatchObject({ code: 0, err: '' });
    expect(words.out).toMatch(/95 % interval \d\.\d\d ms wide/);
    expect(words.out).not.toContain('film ');
    const { code, out } = await lagreel(
      'plan',
      '--presses',
      '10',
      '--exposure',
      '0.5',
      '--want',
      '3',
      '--json',
    );
    expect(code).toBe(0);
    const plan = JSON.parse(out);
    expect(plan).toMatchObject({ format: 'lagreel-plan', version: 1, presses: 10, wantMs: 3, marginMs: 1 });
    expect(plan.pressesForWant).toBeGreaterThan(5);
  });
  it.each([
    ['--presses', '2.5'],
    ['--presses', '0'],
    ['--exposure', '2'],
    ['--want', 'much'],
  ])('wrong usage: %s %s', async (option, value) => {
    const { code, out } = await lagreel('plan', option, value);
    expect({ code, out }).toEqual({ code: 2, out: '' });
  });
  it.each(['calibrate', 'plan'])('%s --help shows two examples', async (command) => {
    const { code, out } = await lagreel(command, '--help');
    expect(code).toBe(0);
    expect(out.slice(out.indexOf('Examples:')).match(/^ {2}lagreel /gm)).toHaveLength(2);
  });
});
