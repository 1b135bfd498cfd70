import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { apiNames, apiReference } from './apiReference.js';

const root = fileURLToPath(new URL('../..', import.meta.url));

describe('the reference of the library', () => {
  it.each(['src/index.ts', 'src/node.ts'])('has words and a declaration for every name of %s', (entry) => {
    const names = apiNames(root, entry);
    expect(names.length).toBeGreaterThan(20);
    expect(names.filter((n) => n.words === '').map((n) => n.name)).toEqual([]);
    expect(names.filter((n) => n.declaration === '').map((n) => n.name)).toEqual([]);
  });
  it('gives functions with their parameters, and what they throw', () => {
    const text = apiReference(root);
    expect(text).toMatch(
      /### measureFile\n\nMeasures a clip on disk[\s\S]*?_throws_[\s\S]*?function measureFile\(clipPath: string/,
    );
    expect(text.match(/^### measureClip$/gm)).toHaveLength(1);
  });
});
