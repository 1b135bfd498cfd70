/**
 * Assembles src/samples/cellSums.wat (the WebAssembly text format, W3C) with the assembler of the WebAssembly project.
 * `npm run wasm` writes what comes out to src/samples/cellSumsBytes.ts; tests/samples/cellReader.test.ts fails where
 * that is not what the text says.
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import wabt from 'wabt';

const text = fileURLToPath(new URL('../../src/samples/cellSums.wat', import.meta.url));
const bytes = fileURLToPath(new URL('../../src/samples/cellSumsBytes.ts', import.meta.url));

/** The assembled program as base64. */
export async function assembleCellSums(): Promise<string> {
  const { parseWat } = await wabt();
  const module = parseWat('cellSums.wat', readFileSync(text, 'utf8'), { simd: true });
  module.validate();
  return Buffer.from(module.toBinary({}).buffer).toString('base64');
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const lines = (await assembleCellSums()).match(/.{1,96}/g)!;
  writeFileSync(
    bytes,
    [
      '/** cellSums.wat assembled, as base64; written by `npm run wasm`. */',
      `export const CELL_SUMS_BASE64 =\n  '${lines.join("' +\n  '")}';\n`,
    ].join('\n'),
  );
}
