/** The clip of the bench: 1920x1080, 240 fps, H.264 at about 50 Mbit/s, a LED and a screen drawn in; and its recipe. */
import { existsSync } from 'node:fs';
import { mkdir, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { timedRun } from './timedRun.js';

const LED = { x: 300, y: 520, width: 40, height: 40 };
const SCREEN = { x: 800, y: 200, width: 960, height: 640 };

/** Where the clip and its recipe are. */
export interface BenchClip {
  readonly clip: string;
  readonly recipe: string;
  readonly presses: number;
}

/** Makes clip and recipe in a folder, or takes the clip that is there. A minute and more takes its time to encode. */
export async function benchClip(ffmpeg: string, folder: string, seconds: number): Promise<BenchClip> {
  await mkdir(folder, { recursive: true });
  const pressesS = pressTimesS(seconds);
  const clip = join(folder, 'thumb.mp4');
  if (!existsSync(clip)) {
    console.log(`Making a ${seconds} s clip, 1920x1080, 240 fps ...`);
    const part = join(folder, 'part.mp4');
    await timedRun(ffmpeg, encoding(seconds, pressesS, part));
    await rename(part, clip);
  }
  const recipe = join(folder, 'bench.recipe-given.json');
  await writeFile(recipe, JSON.stringify(recipeOf()));
  return { clip, recipe, presses: pressesS.length };
}

/** Never by a clock, as with a thumb: about 0.8 s apart in a short clip, 1.5 s in a long one. */
function pressTimesS(seconds: number): readonly number[] {
  const apartS = seconds < 40 ? 0.8 : 1.5;
  return Array.from(
    { length: Math.floor(seconds / apartS) },
    (_, i) => 0.4 + apartS * i + 0.3 * ((i * 0.618034) % 1),
  );
}

/** Presses last 0.12 s; the screen answers 62 ms later for 0.13 s. */
function encoding(seconds: number, pressesS: readonly number[], path: string): readonly string[] {
  const during = (fromS: number, toS: number) =>
    pressesS.map((p) => `between(t,${(p + fromS).toFixed(4)},${(p + toS).toFixed(4)})`).join('+');
  const box = (r: typeof LED, colour: string, enable?: string) =>
    `drawbox=x=${r.x}:y=${r.y}:w=${r.width}:h=${r.height}:color=${colour}:t=fill${enable ? `:enable='${enable}'` : ''}`;
  const filter = [
    'noise=alls=8:allf=t',
    box(SCREEN, '0x202020'),
    box(SCREEN, '0xd0d0d0', during(0.062, 0.192)),
    box(LED, '0x101010'),
    box(LED, '0xc0c0c0', during(0, 0.12)),
    'noise=alls=6:allf=t:all_seed=7',
  ].join(',');
  return [
    ...['-v', 'error', '-nostdin', '-y', '-f', 'lavfi'],
    ...['-i', `testsrc2=size=1920x1080:rate=240:duration=${seconds}`, '-vf', filter],
    ...['-c:v', 'libx264', '-preset', 'ultrafast', '-profile:v', 'high', '-b:v', '50M', '-maxrate', '60M'],
    ...['-bufsize', '50M', '-pix_fmt', 'yuv420p', '-g', '240', path],
  ];
}

function recipeOf() {
  const band = (name: string, y: number) => ({
    name,
    role: 'screen',
    x: SCREEN.x + 320,
    y,
    width: 320,
    height: 64,
  });
  return {
    format: 'lagreel-recipe',
    version: 1,
    regions: [
      { name: 'led', role: 'led', ...LED },
      band('top', SCREEN.y + 20),
      band('middle', SCREEN.y + 288),
      band('bottom', SCREEN.y + 556),
    ],
    capture: { readoutFraction: 0 },
    display: { refreshHz: 60 },
  };
}
