/** Bundles the page of the desk; `npm run build` runs it after the compiler. Everything that the page needs is inside. */
import { copyFile, mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const root = fileURLToPath(new URL('../../', import.meta.url));
const page = join(root, 'src', 'desk', 'page');
const target = join(root, 'dist', 'desk');

await mkdir(target, { recursive: true });
await build({
  absWorkingDir: root,
  entryPoints: [
    { in: join(page, 'main.tsx'), out: 'desk' },
    { in: join(page, 'style', 'desk.css'), out: 'desk' },
  ],
  outdir: target,
  bundle: true,
  minify: true,
  format: 'esm',
  target: 'es2022',
  platform: 'browser',
  jsx: 'automatic',
  jsxImportSource: 'preact',
  legalComments: 'inline',
  logLevel: 'warning',
});
for (const name of ['index.html', 'icon.svg']) await copyFile(join(page, name), join(target, name));
