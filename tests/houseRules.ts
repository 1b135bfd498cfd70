/** The rules of the house as functions from source text to sentences about what breaks them. No sentence, no breach. */
import {
  BASE,
  type Departure,
  HOUSE,
  LONGEST_FILE_LINES,
  NODE_PLACES,
  PACKAGE_PLACES,
  STAGES,
} from './houseTable.js';
import { exportedNames, globalUses, type Import, importsOf, roomOf, type SourceText } from './sourceTree.js';

/** True where `path` is `place` or lies in it. */
function isIn(path: string, place: string): boolean {
  return path === place || path.startsWith(`${place}/`);
}

function allows(rule: string, { to, typeOnly }: Import): boolean {
  const types = rule.startsWith('types of ');
  if (types && !typeOnly) return false;
  const target = types ? rule.slice('types of '.length) : rule;
  const places = target === 'base' ? BASE : target === 'stages' ? STAGES : [target];
  return places.some((place) => isIn(to, place));
}

/** Imports that the table does not allow and no departure excuses; and departures that excuse nothing. */
export function tableBreaches(sources: readonly SourceText[], departures: readonly Departure[]): string[] {
  const breaches: string[] = [];
  const used = new Set<Departure>();
  for (const source of sources) {
    const room = roomOf(source.path);
    const rules = HOUSE[room];
    if (rules === undefined) breaches.push(`src/${source.path}: "${room}" is not in the house table`);
    for (const found of importsOf(source)) {
      if (found.kind !== 'source' || roomOf(found.to) === room) continue;
      if (rules?.some((rule) => allows(rule, found))) continue;
      const excuse = departures.find((d) => isIn(found.from, d.from) && allows(d.to, found));
      if (excuse) used.add(excuse);
      else {
        const how = found.typeOnly ? 'type' : 'run time';
        breaches.push(`src/${found.from} imports src/${found.to} (${how}): not allowed for ${room}`);
      }
    }
  }
  for (const d of departures) {
    if (!used.has(d)) breaches.push(`the departure ${d.from} -> ${d.to} is no longer needed: remove it`);
  }
  return breaches;
}

/** Groups of files that import each other in a circle, type imports counted. */
export function cycles(sources: readonly SourceText[]): string[] {
  const edges = new Map(sources.map((s) => [s.path, targets(s)]));
  // Tarjan 1972: strongly connected components in one depth-first walk.
  const order = new Map<string, number>();
  const low = new Map<string, number>();
  const open: string[] = [];
  const circles: string[] = [];
  const visit = (path: string): void => {
    order.set(path, order.size);
    low.set(path, order.get(path)!);
    open.push(path);
    for (const to of edges.get(path) ?? []) {
      if (!order.has(to)) visit(to);
      if (open.includes(to)) low.set(path, Math.min(low.get(path)!, low.get(to)!));
    }
    if (low.get(path) !== order.get(path)) return;
    const group = open.splice(open.indexOf(path));
    if (group.length > 1 || edges.get(path)?.includes(path)) circles.push(group.sort().join(' <-> '));
  };
  for (const { path } of sources) if (!order.has(path)) visit(path);
  return circles;
}

function targets(source: SourceText): string[] {
  return importsOf(source)
    .filter((found) => found.kind === 'source')
    .map((found) => found.to);
}

/** Relative imports of files that are not there (the walk over the graph would pass over them in silence). */
export function missingTargets(sources: readonly SourceText[]): string[] {
  const known = new Set(sources.map((s) => s.path));
  return sources.flatMap((source) =>
    targets(source)
      .filter((to) => !known.has(to))
      .map((to) => `src/${source.path} imports src/${to}, which is not there`),
  );
}

/** Node built-ins outside their places. */
export function misplacedBuiltins(sources: readonly SourceText[]): string[] {
  const places = Object.keys(NODE_PLACES);
  return sources.flatMap((source) =>
    importsOf(source)
      .filter((found) => found.kind === 'builtin' && !places.some((place) => isIn(source.path, place)))
      .map((found) => `src/${source.path} imports ${found.to}: Node built-ins have no place there`),
  );
}

// Globals that a browser does not have; `import.meta` and `fetch` are in both.
const NODE_GLOBALS = ['process', 'Buffer', 'require', '__dirname', '__filename', 'setImmediate', 'global'];

/** Node built-ins, Node globals and native packages that can be reached from a file by run-time imports. */
export function nodeReachableFrom(entry: string, sources: readonly SourceText[]): string[] {
  const byPath = new Map(sources.map((s) => [s.path, s]));
  const cameFrom = new Map<string, string | null>([[entry, null]]);
  const breaches: string[] = [];
  for (const path of cameFrom.keys()) {
    const source = byPath.get(path);
    if (!source) continue;
    const way = wayTo(path, cameFrom);
    for (const { name, line } of globalUses(source, NODE_GLOBALS)) {
      breaches.push(`${way} uses the Node global ${name} in line ${line}`);
    }
    for (const found of importsOf(source).filter((i) => !i.typeOnly)) {
      if (found.kind === 'source') {
        if (!cameFrom.has(found.to)) cameFrom.set(found.to, path);
      } else if (found.kind === 'builtin' || ['sharp', 'fluent-ffmpeg'].includes(found.to)) {
        breaches.push(`${way} imports ${found.to}`);
      }
    }
  }
  return breaches;
}

function wayTo(path: string, cameFrom: ReadonlyMap<string, string | null>): string {
  const way: string[] = [];
  for (let at: string | null = path; at !== null; at = cameFrom.get(at) ?? null) way.unshift(at);
  return way.join(' -> ');
}

/** npm packages outside their places. */
export function misplacedPackages(sources: readonly SourceText[]): string[] {
  return sources.flatMap((source) =>
    importsOf(source)
      .filter((found) => found.kind === 'package')
      .filter((found) => !PACKAGE_PLACES[found.to]?.some((place) => isIn(source.path, place)))
      .map((found) => `src/${source.path} imports the package ${found.to}: it has no place there`),
  );
}

const EMPTY_WORDS = ['utils', 'util', 'helpers', 'helper', 'common', 'misc', 'shared', 'lib', 'stuff'];

/** Rooms and files whose name says nothing. */
export function emptyNames(paths: readonly string[]): string[] {
  return paths.filter((path) =>
    path
      .replace(/\.tsx?$/, '')
      .split(/[/.]/)
      .some((part) => EMPTY_WORDS.includes(part.toLowerCase())),
  );
}

/** Exported names without a docstring. */
export function undocumented(sources: readonly SourceText[]): string[] {
  return sources
    .filter((s) => !s.path.endsWith('.d.ts'))
    .flatMap(exportedNames)
    .filter((e) => !e.documented)
    .map((e) => `src/${e.path}: ${e.name}`);
}

/** Files over the limit that are not excused, and excuses for files that are not over it. */
export function tooLong(sources: readonly SourceText[], excused: Readonly<Record<string, string>>): string[] {
  const long = sources
    .map((s) => ({ path: s.path, lines: s.text.replace(/\n$/, '').split('\n').length }))
    .filter((s) => s.lines > LONGEST_FILE_LINES);
  return [
    ...long.filter((s) => !(s.path in excused)).map((s) => `src/${s.path} has ${s.lines} lines`),
    ...Object.keys(excused)
      .filter((path) => !long.some((s) => s.path === path))
      .map((path) => `src/${path} is excused as long but is not: remove the excuse`),
  ];
}

const CLOCKS = ['Math.random', 'Date', 'performance', 'crypto.randomUUID', 'crypto.getRandomValues'];

/** Clocks and unseeded randomness; the named places may have them. */
export function clocksAndRandom(sources: readonly SourceText[], places: readonly string[]): string[] {
  return sources
    .filter((s) => !places.some((place) => isIn(s.path, place)))
    .flatMap((s) => globalUses(s, CLOCKS).map((use) => `src/${s.path}:${use.line} uses ${use.name}`));
}
