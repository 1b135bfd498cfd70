/** Writes the JSON Schema files of `schemas/` (npm run schemas). */
import { mkdirSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { toJsonText } from '../../src/record/files.js';
import { jsonSchemas } from '../../src/record/jsonSchemas.js';

const folder = fileURLToPath(new URL('../../schemas', import.meta.url));
mkdirSync(folder, { recursive: true });
for (const [kind, schema] of Object.entries(jsonSchemas())) {
  writeFileSync(`${folder}/${kind}.schema.json`, toJsonText(schema));
}
