/**
 * Who may import whom: the table of DEVELOPERS.md as data. `architecture.test.ts` holds the source to it, and
 * `docs.test.ts` holds DEVELOPERS.md to it.
 *
 * A row is a folder of `src/` or a file directly in it. `types of X` allows type-only imports. `base` and `stages`
 * stand for the lists below. `room/file.ts` allows that file alone.
 */

/** What every row may lean on. */
export const BASE = ['errors.ts', 'units.ts', 'version.ts', 'partFiles.ts', 'remember.ts'] as const;

/** The rooms that a measurement passes through, in order, and the arithmetic under the last of them. */
export const STAGES = [
  'clip',
  'region',
  'samples',
  'trace',
  'onset',
  'press',
  'latency',
  'stats',
  'calibrate',
] as const;

/** The table. A row may always import itself. */
export const HOUSE: Readonly<Record<string, readonly string[]>> = {
  'errors.ts': [],
  'units.ts': ['errors.ts'],
  'version.ts': [],
  'partFiles.ts': [],
  'remember.ts': [],
  'packageFolder.ts': [],
  numeric: ['errors.ts'],
  clip: ['base'],
  region: ['clip', 'base'],
  samples: ['clip', 'region', 'base'],
  trace: ['samples', 'base'],
  onset: ['trace', 'base'],
  press: ['onset', 'numeric', 'base'],
  stats: ['numeric', 'errors.ts'],
  latency: ['press', 'stats', 'base'],
  calibrate: ['clip', 'region', 'numeric', 'base'],
  record: ['types of stages', 'base'],
  'proof.ts': ['types of clipFindings.ts', 'pressPictures.ts', 'onset', 'press', 'types of record', 'base'],
  'pressPictures.ts': ['types of clip', 'samples', 'types of onset', 'base'],
  'clipRegions.ts': ['stages', 'clipOnsets.ts', 'record', 'base'],
  'measuredEvidence.ts': ['types of clip', 'samples', 'trace', 'onset', 'types of record', 'base'],
  'clipOnsets.ts': ['stages', 'record', 'base'],
  'clipFindings.ts': [
    'types of stages',
    'onset',
    'types of clipOnsets.ts',
    'measuredEvidence.ts',
    'pressPictures.ts',
    'base',
  ],
  'clipLatencies.ts': [
    'types of clip',
    'types of clipFindings.ts',
    'region',
    'types of onset',
    'press',
    'latency',
    'types of record',
  ],
  'clipFitness.ts': [
    'types of clipFindings.ts',
    'types of clipLatencies.ts',
    'measuredEvidence.ts',
    'press',
    'latency',
    'types of record',
  ],
  'findingsCache.ts': ['types of clipFindings.ts', 'packageFolder.ts', 'samples/cacheEntries.ts', 'base'],
  'factsCache.ts': ['clip', 'findingsCache.ts', 'samples/cacheEntries.ts', 'base'],
  'overviewCache.ts': ['types of archive', 'findingsCache.ts', 'samples/cacheEntries.ts', 'base'],
  'measure.ts': [
    'stages',
    'clipOnsets.ts',
    'clipFindings.ts',
    'clipLatencies.ts',
    'clipFitness.ts',
    'clipRegions.ts',
    'proof.ts',
    'record',
    'base',
  ],
  'inspect.ts': ['stages', 'measure.ts', 'record', 'base'],
  compare: ['stats', 'numeric', 'types of record', 'base'],
  'compareFiles.ts': ['clip', 'compare', 'record', 'base'],
  report: ['record', 'base'],
  archive: ['clip', 'measure.ts', 'record', 'report', 'types of region', 'base'],
  publish: ['clip', 'region', 'samples', 'trace', 'measure.ts', 'record', 'report', 'base'],
  viewing: [
    'clip',
    'types of clipFindings.ts',
    'types of region',
    'samples/samples.ts',
    'types of onset',
    'base',
  ],
  simulate: ['clip/frameSource.ts', 'numeric', 'base'],
  'index.ts': ['stages', 'measure.ts', 'inspect.ts', 'compare', 'record', 'base'],
  'node.ts': [
    'index.ts',
    'archive',
    'clip',
    'region',
    'samples/cache.ts',
    'samples/cacheEntries.ts',
    'findingsCache.ts',
    'overviewCache.ts',
    'factsCache.ts',
    'measure.ts',
    'inspect.ts',
    'calibrate',
    'compareFiles.ts',
    'record',
    'report',
    'publish',
    'simulate',
    'base',
  ],
  'desk/protocol.ts': ['types of record', 'types of region', 'base'],
  'desk/server': [
    'desk/protocol.ts',
    'packageFolder.ts',
    'node.ts',
    'clip',
    'samples',
    'clipOnsets.ts',
    'clipRegions.ts',
    'measure.ts',
    'archive',
    'record',
    'report',
    'viewing',
    'base',
  ],
  'desk/page': ['desk/protocol.ts', 'index.ts', 'report', 'types of record', 'types of region', 'base'],
  'desk/buildPage.ts': [],
  cli: [
    'packageFolder.ts',
    'node.ts',
    'desk/server',
    'index.ts',
    'report',
    'simulate',
    'record/files.ts',
    'types of record',
    'types of region',
    'base',
  ],
};

/** One departure from the table, named by its importing file (or room) and what it reaches for. */
export interface Departure {
  /** A file of `src/`, or a room where all of it is meant. */
  readonly from: string;
  /** As in the table. */
  readonly to: string;
  readonly reason: string;
}

/**
 * Departures that are known and argued for. The test fails on one that is no longer needed, so that this list only
 * ever holds what is real.
 */
export const DEPARTURES: readonly Departure[] = [
  {
    from: 'simulate/encodeClip.ts',
    to: 'clip/encode.ts',
    reason: 'the one place where a scene becomes a file; FFmpeg stays behind clip/',
  },
  {
    from: 'trace',
    to: 'types of clip',
    reason: 'a trace is a signal against capture time, and the clock is a type of clip/',
  },
  {
    from: 'trace',
    to: 'types of region',
    reason: 'a trace carries the region that it belongs to',
  },
  {
    from: 'onset',
    to: 'types of region',
    reason: 'a set of onsets carries the region that it belongs to',
  },
  {
    from: 'trace',
    to: 'numeric',
    reason:
      "a picture's displacement is a least-squares solution, and its ripple a line of a spectrum: maths with no subject",
  },
  {
    from: 'onset',
    to: 'numeric',
    reason: 'the pulse train of a tube is found by a one-dimensional minimiser, maths with no subject',
  },
  {
    from: 'region/handStep.ts',
    to: 'numeric',
    reason: "the hand's step is a least-squares solution, maths with no subject",
  },
  {
    from: 'region/patches.ts',
    to: 'numeric',
    reason: 'how strongly a block changes is one value out of thousands, found without sorting the others',
  },
  {
    from: 'region/evenSteps.ts',
    to: 'numeric',
    reason: 'how strongly a block changes is one value out of thousands, found without sorting the others',
  },
  {
    from: 'latency/displayReadout.ts',
    to: 'numeric',
    reason: 'how long a signal takes to draw is arithmetic of line counts, of no clip',
  },
  {
    from: 'index.ts',
    to: 'numeric',
    reason: 'who writes a recipe needs the names of the video modes that it may hold',
  },
  {
    from: 'record/parseRecipe.ts',
    to: 'numeric',
    reason: 'a recipe may name a mode of a video standard, and only those that there are',
  },
  {
    from: 'latency/expectedUncertainty.ts',
    to: 'numeric',
    reason:
      'the error of an edge to expect is an integral over a normal distribution, not statistics of a sample',
  },
  {
    from: 'latency/refreshPeriod.ts',
    to: 'types of onset',
    reason: 'a refresh period measured from pulses stands in the onset set, which press/ does not hand on',
  },
];

/** Where a Node built-in may stand: rooms and files, with what for. */
export const NODE_PLACES: Readonly<Record<string, string>> = {
  clip: 'FFmpeg and reading clips',
  'samples/cache.ts': 'the on-disk cache of samples',
  'samples/cacheEntries.ts': 'the folder of the cache',
  'findingsCache.ts': 'the on-disk cache of findings, and the code that made them',
  'overviewCache.ts': 'the on-disk cache of overview pictures',
  'factsCache.ts': 'the on-disk cache of facts',
  'record/files.ts': 'reading and writing recipes and records',
  'partFiles.ts': 'half-written files and whose they are',
  'record/writableFolder.ts': 'the folder that results are written to',
  'report/pictures': 'picture files',
  'report/styleHash.ts': 'the checksum of a style sheet',
  'simulate/encodeClip.ts': 'writing simulated clips',
  publish: 'files that leave the bench',
  archive: 'records, results and history on disk',
  'compareFiles.ts': 'paths of records on disk',
  'node.ts': 'paths of whole clips on disk',
  'packageFolder.ts': 'where lagreel itself lies',
  cli: 'the terminal',
  'desk/server': 'the loopback server',
  'desk/buildPage.ts': 'bundling the page',
};

/** npm packages and the only places that may import them, so that each stays exchangeable. */
export const PACKAGE_PLACES: Readonly<Record<string, readonly string[]>> = {
  '@hono/node-server': ['desk/server'],
  commander: ['cli'],
  'csv-parse': ['record/session.ts'],
  'd3-array': ['report'],
  'd3-scale': ['report'],
  'd3-shape': ['report'],
  esbuild: ['desk/buildPage.ts', 'cli/buildProgram.ts'],
  'fft.js': ['numeric'],
  'ffmpeg-static': ['clip/findFfmpeg.ts'],
  '@ffmpeg-installer/ffmpeg': ['clip/findFfmpeg.ts'],
  'fluent-ffmpeg': ['clip'],
  hono: ['desk/server'],
  jstat: ['numeric'],
  preact: ['desk/page'],
  'pure-rand': ['numeric'],
  sharp: ['report/pictures'],
  'simple-statistics': ['numeric/smallest.ts', 'stats'],
  uplot: ['desk/page'],
  zod: ['record'],
};

/** The longest file of `src/`, lines. */
export const LONGEST_FILE_LINES = 400;

/** Files that are longer, and why; each must really be longer. */
export const LONG_FILES: Readonly<Record<string, string>> = {};
