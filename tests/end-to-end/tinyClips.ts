/** Tiny clips that are quick to measure, as many as wanted: one simulated clip, each copy with bytes of its own. */
import { copyFileSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Region } from '../../src/region/region.js';
import { lagreel, scratch } from './program.js';

/** A measured tiny clip: its bytes, and the recipe with the regions that were found, of no clip in particular. */
export interface TinyClip {
  readonly bytes: Buffer;
  /** The LED and one screen region. */
  readonly regions: readonly Region[];
  readonly recipe: Readonly<Record<string, unknown>>;
}

/** Simulates a clip of two presses and measures it once. */
export async function tinyClip(): Promise<TinyClip> {
  const path = join(scratch(), 'tiny.mp4');
  const size = ['--size', '160x120', '--presses', '3', '--seed', '5', '--crf', '28'];
  const made = await lagreel(['simulate', 'flash', ...size, '-o', path, '--quiet']);
  if (made.code !== 0) throw new Error(made.err);
  const found = await lagreel(['measure', path, '--refresh', '60', '--quiet', '--no-cache']);
  if (found.code !== 0 && found.code !== 4) throw new Error(found.err);
  const recipe = JSON.parse(readFileSync(path.replace('.mp4', '.recipe.json'), 'utf8'));
  // One screen region and a known camera: quick, and all that these tests are after.
  const [led, ...screens] = recipe.regions;
  return {
    bytes: readFileSync(path),
    regions: [led, screens.at(-1)],
    recipe: {
      ...recipe,
      clip: { file: '', sha256: '', bytes: 0 },
      regions: [led, screens.at(-1)],
      capture: { ...recipe.capture, exposureFraction: 0.95, readoutFraction: 0.7 },
    },
  };
}

/** Writes a copy whose checksum is its own: an empty box at the end with its number, which players skip. */
export function writeTiny({ bytes }: TinyClip, path: string, number: number): void {
  const box = Buffer.alloc(16);
  box.writeUInt32BE(16, 0);
  box.write('free', 4, 'latin1');
  box.writeUInt32BE(number, 12);
  writeFileSync(path, Buffer.concat([bytes, box]));
}

/** The recipe of the clip, with a person's changes, beside a copy. */
export function writeTinyRecipe({ recipe }: TinyClip, path: string, changes: object = {}): void {
  writeFileSync(path, `${JSON.stringify({ ...recipe, ...changes }, null, 2)}\n`);
}

/** Copies files of one folder into another. */
export function copyFiles(from: string, names: readonly string[], to: string): void {
  for (const name of names) copyFileSync(join(from, name), join(to, name));
}
