// Reads records and prints how they compare, without files of its own: node compareRecords.mjs KEY=VALUE RECORD...
import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import { compareRecords, parseRecord } from 'lagreel/pure';

const [baseline, ...paths] = process.argv.slice(2);
const [key, value] = baseline.split('=');
const records = await Promise.all(
  paths.map(async (path) => ({
    file: basename(path),
    record: parseRecord(await readFile(path, 'utf8'), path),
  })),
);
const comparison = compareRecords(records, { by: [key], baseline: { [key]: value } });
console.log(JSON.stringify(comparison, null, 2));
