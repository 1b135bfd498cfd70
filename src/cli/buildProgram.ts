/**
 * Joins the compiled program into a few files; `npm run build` runs it after the compiler. Node spends longer on finding
 * and linking four hundred small files than a short command takes.
 *
 * Outside stay `sharp`, which brings a library of its own, and `fluent-ffmpeg`, which looks for files beside its source.
 * The licences of what is joined stand beside it.
 */
import { readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const root = fileURLToPath(new URL('../../', import.meta.url));
const target = join(root, 'dist', 'program');

await rm(target, { recursive: true, force: true });
const { metafile } = await build({
  absWorkingDir: root,
  entryPoints: [
    { in: 'dist/cli/main.js', out: 'main' },
    { in: 'dist/cli/measureWorker.js', out: 'measureWorker' },
    { in: 'dist/clip/hashWorker.js', out: 'hashWorker' },
    { in: 'dist/desk/server/workbenchProcess.js', out: 'workbenchProcess' },
  ],
  outdir: target,
  bundle: true,
  splitting: true,
  format: 'esm',
  platform: 'node',
  target: 'node20',
  external: ['sharp', 'fluent-ffmpeg'],
  // Names stay as they are: a fault of lagreel shows its stack.
  minifyWhitespace: true,
  metafile: true,
  legalComments: 'none',
  logLevel: 'warning',
  // What is joined from CommonJS asks for Node's own modules in this way.
  banner: {
    js: 'import{createRequire as requireOf}from"node:module";const require=requireOf(import.meta.url);',
  },
});
const joined = Object.keys(metafile.inputs).flatMap(
  (path) => /^.*node_modules\/(?:@[^/]+\/)?[^/]+/.exec(path)?.[0] ?? [],
);
const notices: string[] = [];
for (const folder of [...new Set(joined)].sort()) {
  const { name, version, license } = JSON.parse(await readFile(join(root, folder, 'package.json'), 'utf8'));
  const file = (await readdir(join(root, folder))).find((entry) => /^licen[cs]e/i.test(entry));
  const text =
    file === undefined
      ? `${license}; the package holds no text of it.`
      : await readFile(join(root, folder, file), 'utf8');
  notices.push(`${name} ${version}\n\n${text.trim()}\n`);
}
await writeFile(join(target, 'licences.txt'), notices.join(`\n${'-'.repeat(80)}\n\n`));
