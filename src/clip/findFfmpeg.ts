/** Finds an FFmpeg that runs. Part of `ffmpeg.ts`, through which the other rooms use it. */
import { execFile } from 'node:child_process';
import { chmodSync, constants } from 'node:fs';
import { access, open, stat } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { delimiter, isAbsolute, join } from 'node:path';
import { AnalysisError } from '../errors.js';
import { childEnvironment } from './childGuard.js';

/** Where an FFmpeg was found; the first two are the user's own words and are never replaced by another. */
export type FfmpegOrigin = 'LAGREEL_FFMPEG' | 'FFMPEG_PATH' | 'ffmpeg-static' | 'PATH' | 'bundled';

/** An FFmpeg that has been run and answered. */
export interface FfmpegBuild {
  /** Absolute path of the program. */
  readonly path: string;
  /** First line of `-version`, for the record. */
  readonly versionLine: string;
  /** libavcodec's major and minor version; the program's own version string is no number in git builds. */
  readonly libavcodecMajorMinor: readonly [major: number, minor: number];
  /** Knows `-fps_mode` (FFmpeg 5.1 and later); older builds need `-vsync`. */
  readonly supportsFpsMode: boolean;
  readonly source: FfmpegOrigin;
}

/** One place to look, in order of preference. */
export interface FfmpegCandidate {
  readonly path: string;
  readonly source: FfmpegOrigin;
  /** The user named it: if it does not run, say so instead of trying the next. */
  readonly explicit: boolean;
}

/** Environment variables, as `process.env` has them. */
export type Environment = Readonly<Record<string, string | undefined>>;

const PROBE_TIMEOUT_MS = 15_000;
/** FFmpeg 5.1 came with libavcodec 59.37. */
const FPS_MODE_SINCE: readonly [number, number] = [59, 37];
const found = new Map<string, Promise<FfmpegBuild>>();
const require = createRequire(import.meta.url);

/**
 * The FFmpeg to use: `LAGREEL_FFMPEG`, then `FFMPEG_PATH` (a hard error if it does not run), then the package
 * `ffmpeg-static`, the `PATH`, and the build that npm installed with lagreel. Being there is not enough: each
 * is asked for its version. Remembered per process and environment.
 * @throws AnalysisError `decoder-missing` with one sentence on what to do.
 */
export function findFfmpeg(env: Environment = process.env): Promise<FfmpegBuild> {
  const key = JSON.stringify([env.LAGREEL_FFMPEG, env.FFMPEG_PATH, env.FFMPEG_BIN, env.PATH ?? env.Path]);
  let search = found.get(key);
  if (search === undefined) {
    search = firstThatRuns(ffmpegCandidates(env));
    found.set(key, search);
    // A failure is not remembered: the user may repair it while the desk server runs on.
    search.catch(() => found.delete(key));
  }
  return search;
}

/** A program file by what would tell another one in its place. */
export interface FfmpegMark {
  readonly path: string;
  readonly bytes: number;
  /** When its content was last written, ms. */
  readonly writtenMs: number;
}

/**
 * The program that `findFfmpeg` asks first, told without running it, which takes as long as opening a clip does otherwise.
 * @returns null where there is none, and for a script: what stands behind one may change while the script stays.
 */
export async function ffmpegMark(env: Environment = process.env): Promise<FfmpegMark | null> {
  for (const { path } of ffmpegCandidates(env)) {
    const facts = await stat(path).catch(() => null);
    if (!facts?.isFile()) continue;
    return (await isScript(path)) ? null : { path, bytes: facts.size, writtenMs: facts.mtimeMs };
  }
  return null;
}

/** Whether a file is a script or cannot be read, which would hide that. */
async function isScript(path: string): Promise<boolean> {
  const file = await open(path).catch(() => null);
  if (!file) return true;
  try {
    const { buffer } = await file.read(Buffer.alloc(2), 0, 2, 0);
    // Windows knows its own scripts by their names.
    return buffer.toString('latin1') === '#!' || /\.(?:bat|cmd|ps1)$/i.test(path);
  } finally {
    await file.close();
  }
}

/** The places to look at, best first. Pure but for package resolution. */
export function ffmpegCandidates(env: Environment): readonly FfmpegCandidate[] {
  const candidates: FfmpegCandidate[] = [];
  for (const source of ['LAGREEL_FFMPEG', 'FFMPEG_PATH'] as const) {
    const path = env[source];
    if (path !== undefined && path !== '') candidates.push({ path, source, explicit: true });
  }
  try {
    const path: unknown = require('ffmpeg-static');
    if (typeof path === 'string') candidates.push({ path, source: 'ffmpeg-static', explicit: false });
  } catch {
    // An optional dependency: absent where its download was blocked.
  }
  const program = process.platform === 'win32' ? 'ffmpeg.exe' : 'ffmpeg';
  for (const folder of (env.PATH ?? env.Path ?? '').split(delimiter)) {
    // Only absolute folders: the clip's own folder must not be able to offer a program.
    if (isAbsolute(folder)) candidates.push({ path: join(folder, program), source: 'PATH', explicit: false });
  }
  const bundled = bundledPath(program);
  if (bundled !== null) candidates.push({ path: bundled, source: 'bundled', explicit: false });
  return candidates;
}

/** The npm-installed build. Its index.js throws a bare string on platforms it does not know, so it is not loaded. */
function bundledPath(program: string): string | null {
  const manifest = `@ffmpeg-installer/${process.platform}-${process.arch}/package.json`;
  for (const from of [
    () => require,
    // Package managers that do not hoist put the platform's package below its parent.
    () => createRequire(require.resolve('@ffmpeg-installer/ffmpeg/package.json')),
  ]) {
    try {
      return join(from().resolve(manifest), '..', program);
    } catch {
      // Not reachable this way.
    }
  }
  return null;
}

/**
 * The first candidate that runs `-version`.
 * @throws AnalysisError `decoder-missing` where none does, or where an explicit one does not.
 */
export async function firstThatRuns(candidates: readonly FfmpegCandidate[]): Promise<FfmpegBuild> {
  const failures: string[] = [];
  for (const candidate of candidates) {
    try {
      return await probe(candidate);
    } catch (cause) {
      const why = cause instanceof Error ? cause.message : String(cause);
      failures.push(`${candidate.path}: ${why}`);
      if (candidate.explicit) {
        throw new AnalysisError(
          'decoder-missing',
          `${candidate.source} names ${candidate.path}, which is no FFmpeg that runs (${why}); ` +
            'set it to a working ffmpeg program, or unset it to let lagreel choose.',
          { path: candidate.path, source: candidate.source },
          cause,
        );
      }
    }
  }
  throw new AnalysisError(
    'decoder-missing',
    'No FFmpeg that runs was found: install FFmpeg, or set LAGREEL_FFMPEG to the path of an ffmpeg program.',
    { tried: failures.slice(-8) },
  );
}

async function probe(candidate: FfmpegCandidate): Promise<FfmpegBuild> {
  const { path, source } = candidate;
  const facts = await stat(path).catch(() => null);
  if (facts === null) throw new Error('no such file');
  if (!facts.isFile()) throw new Error('not a file');
  if (source === 'bundled' || source === 'ffmpeg-static') {
    // Their install step sets the permission, and npm may have been told not to run it.
    await access(path, constants.X_OK).catch(() => {
      try {
        chmodSync(path, 0o755);
      } catch {
        // Not ours to change; running it will tell.
      }
    });
  }
  const text = await new Promise<string>((resolve, reject) => {
    const options = {
      timeout: PROBE_TIMEOUT_MS,
      killSignal: 'SIGKILL',
      windowsHide: true,
      env: childEnvironment(),
    } as const;
    execFile(path, ['-version'], options, (error, stdout) => {
      if (error === null) resolve(stdout);
      else reject(new Error(error.code === undefined ? 'no answer' : `it ended with ${error.code}`));
    });
  });
  const version = /libavcodec\s+(\d+)\.\s*(\d+)/.exec(text);
  if (!text.startsWith('ffmpeg version') || version === null) throw new Error('it does not answer as FFmpeg');
  const libavcodecMajorMinor = [Number(version[1]), Number(version[2])] as const;
  const [major, minor] = libavcodecMajorMinor;
  return {
    path,
    versionLine: text.slice(0, text.indexOf('\n')).trim(),
    libavcodecMajorMinor,
    supportsFpsMode: major > FPS_MODE_SINCE[0] || (major === FPS_MODE_SINCE[0] && minor >= FPS_MODE_SINCE[1]),
    source,
  };
}
