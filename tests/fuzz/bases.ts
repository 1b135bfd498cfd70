/** What the fuzzer starts from: small clips of several kinds made on the spot, and the documents measured from them. */
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { runFfmpeg } from '../../src/clip/ffmpeg.js';
import { toJsonText } from '../../src/record/files.js';
import { sample } from '../end-to-end/program.js';
import { runHere } from './judge.js';

/** A clip to start from. */
export interface BaseClip {
  readonly path: string;
  readonly ending: string;
  /** `--region` options that fit its picture. */
  readonly regions: readonly string[];
  /** Chosen so often. */
  readonly weight: number;
}

/** Everything to start from. */
export interface Bases {
  readonly clips: readonly BaseClip[];
  readonly recipe: string;
  readonly camera: string;
  readonly session: string;
  readonly records: readonly string[];
  readonly comparison: string;
}

async function ffmpeg(...args: string[]): Promise<void> {
  const { exitCode, messages } = await runFfmpeg({ args: ['-y', ...args], onOutput: [] });
  if (exitCode !== 0) throw new Error(messages);
}

async function lagreel(...argv: string[]): Promise<void> {
  const { code, err } = await runHere(argv);
  if (code !== 0 && code !== 4) throw new Error(`lagreel ${argv.join(' ')}: ${code} ${err}`);
}

function regionsOf(truthPath: string): string[] {
  const { regions } = JSON.parse(readFileSync(truthPath, 'utf8'));
  return (['led', 'screen'] as const).flatMap((role) => {
    const { x, y, width, height } = regions[role];
    return ['--region', `${role === 'led' ? 'led' : 'top'}=${role}:${[x, y, width, height].join(',')}`];
  });
}

/** Makes everything below a folder, or finds it there. */
export async function basesIn(folder: string): Promise<Bases> {
  const at = (name: string) => join(folder, name);
  if (!existsSync(at('done'))) {
    mkdirSync(folder, { recursive: true });
    await makeAll(at);
    writeFileSync(at('done'), '');
  }
  const plain = regionsOf(at('tiny.truth.json'));
  const clip = (name: string, weight: number, regions = plain): BaseClip => ({
    path: at(name),
    ending: name.slice(name.lastIndexOf('.')),
    regions,
    weight,
  });
  const read = (name: string) => readFileSync(at(name), 'utf8');
  return {
    clips: [
      clip('tiny.mp4', 8),
      clip('slow.mp4', 4),
      clip('turned.mp4', 3, regionsOf(at('turned.truth.json'))),
      clip('fragments.mp4', 4),
      clip('sound.mp4', 4),
      clip('tiny.mkv', 3),
      clip('deep.mov', 2),
      clip('tiny.webm', 2),
      clip('intra.mov', 2),
      { ...clip('tiny.mp4', 1, ['--refresh', '60']), path: sample('alder-flat.mp4') },
      { ...clip('tiny.mp4', 1, ['--refresh', '60']), path: sample('birch-variable.mp4') },
    ],
    recipe: read('Alder.recipe.json'),
    camera: read('camera.json'),
    session:
      'file,region,chain,mode\nAlder.mp4,,Alder,240p\nBirch.mp4,,Birch,480i\nBirch.mp4,top,Birch,"240p, wide"\n',
    records: ['Alder', 'Birch', 'Cedar'].map((name) => read(`${name}.record.json`)),
    comparison: read('comparison.json'),
  };
}

async function makeAll(at: (name: string) => string): Promise<void> {
  const small = ['--size', '160x90', '--quiet'];
  await lagreel('simulate', 'flash', '--presses', '3', ...small, '-o', at('tiny.mp4'));
  await lagreel('simulate', 'flash', '--presses', '3', '--stored-rate', '30', ...small, '-o', at('slow.mp4'));
  await lagreel('simulate', 'flash', '--presses', '2', '--rotate', '90', ...small, '-o', at('turned.mp4'));
  const from = ['-i', at('tiny.mp4')];
  await ffmpeg(...from, '-c', 'copy', '-movflags', 'frag_keyframe+empty_moov', at('fragments.mp4'));
  const sound = [
    '-f',
    'lavfi',
    '-i',
    'sine=d=1',
    '-c:v',
    'copy',
    '-c:a',
    'aac',
    '-map',
    '1:a',
    '-map',
    '0:v',
  ];
  await ffmpeg(...from, ...sound, '-movflags', '+faststart', at('sound.mp4'));
  await ffmpeg(...from, '-c', 'copy', at('tiny.mkv'));
  const x265 = [
    '-c:v',
    'libx265',
    '-x265-params',
    'log-level=error',
    '-pix_fmt',
    'yuv420p10le',
    '-tag:v',
    'hvc1',
  ];
  await ffmpeg(...from, ...x265, at('deep.mov'));
  await ffmpeg(...from, '-c:v', 'libvpx', '-b:v', '1M', at('tiny.webm'));
  await ffmpeg(...from, '-c:v', 'mjpeg', '-q:v', '3', '-pix_fmt', 'yuvj420p', at('intra.mov'));
  for (const [i, name] of ['Alder', 'Birch', 'Cedar'].entries()) {
    const delay = ['--fixed-delay', String(40 + 9 * i), '--seed', String(7 + i)];
    await lagreel('simulate', 'flash', '--presses', '10', ...delay, ...small, '-o', at(`${name}.mp4`));
    const regions = regionsOf(at(`${name}.truth.json`));
    const about = ['--refresh', '60', '--label', `chain=${name}`, '--label', 'mode=240p', '--quiet'];
    await lagreel('measure', at(`${name}.mp4`), ...regions, ...about);
  }
  const records = ['Alder', 'Birch', 'Cedar'].map((name) => at(`${name}.record.json`));
  await lagreel(
    'compare',
    ...records,
    '--baseline',
    'chain=Alder',
    '--allow',
    'height',
    '--out',
    at('.'),
    '--quiet',
  );
  writeFileSync(at('camera.json'), toJsonText(CAMERA));
}

/** As `calibrate` writes it; the numbers are invented. */
const CAMERA = {
  format: 'lagreel-camera',
  version: 1,
  coded: { width: 160, height: 90 },
  captureRateHz: 240,
  captureRateIntervalHz: [239.99, 240.01],
  readoutMs: 2.9,
  readoutUncertaintyMs: 0.05,
  readoutFraction: 0.7,
  readoutFractionInterval: [0.68, 0.72],
  exposureFraction: 0.9,
  measured: {
    clip: { file: 'lamp.mp4', sha256: 'a'.repeat(64) },
    lightHz: 1000,
    lightUncertaintyRel: 5e-5,
    frames: 480,
    codedRect: { x: 0, y: 0, width: 20, height: 90 },
    modulation: 0.4,
    bandsPerPicture: 2.9,
    cyclesPerFrame: 4.17,
    ratesHz: { timestamps: 240, tag: null, stated: null, light: 240 },
  },
  warnings: [],
};
