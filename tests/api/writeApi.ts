/** `npm run api`: writes the library's reference from its docstrings to `dist/api.md`. */
import { mkdirSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { apiReference } from './apiReference.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
mkdirSync(`${root}/dist`, { recursive: true });
writeFileSync(`${root}/dist/api.md`, apiReference(root));
console.log('dist/api.md');
