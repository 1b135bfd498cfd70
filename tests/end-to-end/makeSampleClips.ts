/**
 * `npm run clips`: makes the sample clips and their truth again, and says which hashes moved. With `--check`
 * (`npm run clips -- --check`) nothing in `sample-clips/` is touched, and the exit code is 1 where one moved.
 *
 * The same scenes and the same FFmpeg give the same bytes; another encoder build may move every hash with no
 * change in any truth. A recipe names its clip by hash, and so does the README there: both are pointed at the new
 * clip, and nothing else in them changes.
 */
import { createHash } from 'node:crypto';
import { copyFileSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { findFfmpeg } from '../../src/clip/ffmpeg.js';
import { makeSampleClips } from '../../src/simulate/sampleClips.js';

/** Together, in bytes: the repository must stay light. */
const MOST_BYTES = 6_000_000;

const samples = fileURLToPath(new URL('../../sample-clips/', import.meta.url));
const checkOnly = process.argv.includes('--check');

const sha256 = (path: string): string | null =>
  existsSync(path) ? createHash('sha256').update(readFileSync(path)).digest('hex') : null;

/** What became of one file, in a word. */
function change(made: string, stored: string): 'same' | 'moved' | 'new' {
  const before = sha256(stored);
  if (before === null) return 'new';
  return before === sha256(made) ? 'same' : 'moved';
}

/** Points a recipe at the clip as it is now; everything that a person decided stays. */
function renewRecipe(path: string, clip: { file: string; sha256: string; bytes: number }): boolean {
  if (!existsSync(path)) return false;
  const recipe = JSON.parse(readFileSync(path, 'utf8'));
  if (recipe.clip.sha256 === clip.sha256) return false;
  const { file, sha256, bytes } = clip;
  writeFileSync(path, `${JSON.stringify({ ...recipe, clip: { file, sha256, bytes } }, null, 2)}\n`);
  return true;
}

/** Writes size and hash of a clip into its row of the README; the row must be there. */
function renewReadme(clip: { file: string; sha256: string; bytes: number }): void {
  const path = join(samples, 'README.md');
  const text = readFileSync(path, 'utf8');
  const row = new RegExp(`^\\| \`${clip.file}\` \\| \\d+ \\| \`[0-9a-f]{64}\` \\|$`, 'm');
  if (!row.test(text)) throw new Error(`${path} has no row with size and hash of ${clip.file}`);
  writeFileSync(path, text.replace(row, `| \`${clip.file}\` | ${clip.bytes} | \`${clip.sha256}\` |`));
}

const scratch = mkdtempSync(join(tmpdir(), 'lagreel-clips-'));
try {
  console.log(`Encoding with ${(await findFfmpeg()).versionLine}`);
  let moved = 0;
  let bytes = 0;
  const clips = await makeSampleClips(scratch, {
    onClip: ({ clipPath, truthPath, truth: { clip } }) => {
      if (clip === null) throw new Error(`${truthPath} does not name its clip`);
      bytes += clip.bytes;
      for (const made of [clipPath, truthPath]) {
        const stored = join(samples, basename(made));
        const became = change(made, stored);
        if (became !== 'same') moved++;
        console.log(`${became.padEnd(5)}  ${sha256(made)}  ${basename(made)}`);
        if (!checkOnly && became !== 'same') copyFileSync(made, stored);
      }
      if (!checkOnly) renewReadme(clip);
      const recipe = clipPath.replace(/\.mp4$/, '.recipe.json');
      if (!checkOnly && renewRecipe(join(samples, basename(recipe)), clip)) {
        console.log(`       ${basename(recipe)} now names the new clip`);
      }
    },
  });
  console.log(`${clips.length} clips, ${(bytes / 1e6).toFixed(2)} MB together`);
  console.log(
    moved === 0
      ? 'No hash moved.'
      : `${moved} files ${checkOnly ? 'would move' : 'moved'}: look at git diff, and say why in the commit.`,
  );
  if (bytes > MOST_BYTES) console.error(`Too large: at most ${MOST_BYTES / 1e6} MB together.`);
  process.exitCode = bytes > MOST_BYTES || (checkOnly && moved > 0) ? 1 : 0;
} finally {
  rmSync(scratch, { recursive: true, force: true });
}
