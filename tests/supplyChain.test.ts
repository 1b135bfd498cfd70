/** What lagreel brings along: pinned, from the registry alone, under licences that fit MIT, and no script of our own on install. */
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';

const root = fileURLToPath(new URL('..', import.meta.url));
const json = (path: string) => JSON.parse(readFileSync(join(root, path), 'utf8'));
const manifest = json('package.json');

interface Locked {
  readonly version: string;
  readonly resolved?: string;
  readonly integrity?: string;
  readonly license?: string;
  readonly dev?: boolean;
  readonly optional?: boolean;
  readonly hasInstallScript?: boolean;
}
const locked: readonly (readonly [path: string, entry: Locked])[] = Object.entries<Locked>(
  json('package-lock.json').packages,
).filter(([path]) => path !== '');
const production = locked.filter(([, entry]) => !entry.dev);
const nameOf = (path: string) => path.slice(path.lastIndexOf('node_modules/') + 'node_modules/'.length);

/** Licences that ask for no more than their notice, and the fonts' own. */
const ALLOWED = [
  'MIT',
  'ISC',
  'BSD',
  'BSD-2-Clause',
  'BSD-3-Clause',
  'Apache-2.0',
  '0BSD',
  'BlueOak-1.0.0',
  'Unlicense',
  'OFL-1.1',
];

/** Copyleft that is used as its licence allows: a program of its own, or a library that stays exchangeable. */
const EXCEPTIONS: Readonly<Record<string, string>> = {
  'ffmpeg-static': 'GPL-3.0-or-later: a program that is run, not linked; optional',
  '@ffmpeg-installer/': 'LGPL-2.1, GPLv3: programs that are run, not linked',
  '@img/sharp-': 'LGPL-3.0-or-later: libvips as a shared library that npm installs apart',
};
const exceptionOf = (name: string) => Object.keys(EXCEPTIONS).find((start) => name.startsWith(start));

/** Not installed on every platform, and its entry in the lock file names none: what the registry says of it. */
const STATED_ELSEWHERE: Readonly<Record<string, string>> = { 'parse-cache-control': 'BSD' };

/** As the lock file says it, else as the installed package does. */
function licenceOf(path: string, entry: Locked): string {
  if (entry.license !== undefined) return entry.license;
  const file = join(path, 'package.json');
  const stated = existsSync(join(root, file)) ? json(file) : {};
  if (typeof stated.license === 'string') return stated.license;
  // As packages said it before npm 2.
  const types: string[] = (stated.licenses ?? []).map((one: { readonly type: string }) => one.type);
  return types.length > 0 ? types.join(' OR ') : (STATED_ELSEWHERE[nameOf(path)] ?? 'none stated');
}

/** True where every part of an `AND` and one of an `OR` is allowed. */
function isAllowed(licence: string): boolean {
  return licence
    .replace(/[()]/g, '')
    .split(' AND ')
    .every((part) => part.split(' OR ').some((one) => ALLOWED.includes(one.trim())));
}

describe('licences of what is installed with lagreel', () => {
  it('are there to be looked at', () => expect(production.length).toBeGreaterThan(20));
  it.each(production.map(([path, entry]) => [nameOf(path), licenceOf(path, entry)] as const))(
    '%s: %s',
    (name, licence) => {
      if (!isAllowed(licence)) expect(exceptionOf(name), `${name} is under ${licence}`).toBeDefined();
    },
  );
  it('every exception is of a package that is there', () => {
    const names = production.map(([path]) => nameOf(path));
    for (const start of Object.keys(EXCEPTIONS))
      expect(
        names.some((name) => name.startsWith(start)),
        start,
      ).toBe(true);
  });
  it('knows an alternative from a sum', () => {
    expect(isAllowed('(MIT OR GPL-3.0)')).toBe(true);
    expect(isAllowed('MIT AND GPL-3.0')).toBe(false);
    expect(isAllowed('none stated')).toBe(false);
  });
});

describe('the lock file', () => {
  // npm leaves the address out where it is the registry's own.
  it('takes every package from the registry, with its checksum', () => {
    const loose = locked.filter(
      ([, { resolved, integrity }]) =>
        !(resolved ?? 'https://registry.npmjs.org/').startsWith('https://registry.npmjs.org/') ||
        !/^sha512-/.test(integrity ?? ''),
    );
    expect(loose.map(([path]) => path)).toEqual([]);
  });
  it('agrees with exact versions in package.json', () => {
    const wanted = {
      ...manifest.dependencies,
      ...manifest.optionalDependencies,
      ...manifest.devDependencies,
    };
    for (const [name, version] of Object.entries<string>(wanted)) {
      expect(version, name).toMatch(/^\d+\.\d+\.\d+$/);
      expect(locked.find(([path]) => path === `node_modules/${name}`)?.[1].version, name).toBe(version);
    }
  });
  it('brings install scripts only by packages that package.json speaks of', () => {
    const scripted = locked.filter(([, entry]) => entry.hasInstallScript).map(([path]) => nameOf(path));
    const spoken = Object.keys(manifest.allowScripts);
    expect(
      scripted.filter(
        (name) => !spoken.includes(name) && name !== 'fsevents' && !name.startsWith('@ffmpeg-installer/'),
      ),
    ).toEqual([]);
  });
});

it('runs nothing of its own when it is installed', () => {
  const onInstall = [
    'preinstall',
    'install',
    'postinstall',
    'prepare',
    'prepublish',
    'preprepare',
    'postprepare',
  ];
  expect(Object.keys(manifest.scripts).filter((name) => onInstall.includes(name))).toEqual([]);
  expect(existsSync(join(root, 'binding.gyp'))).toBe(false);
});
