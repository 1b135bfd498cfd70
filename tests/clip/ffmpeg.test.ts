import { execFile, spawn } from 'node:child_process';
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { outputPipe, runFfmpeg } from '../../src/clip/ffmpeg.js';
import { ffmpegCandidates, findFfmpeg, firstThatRuns } from '../../src/clip/findFfmpeg.js';
import { scratchFolder } from './numberedClip.js';

const folder = scratchFolder();

/** A program that answers, but not as FFmpeg. */
function program(name: string, text: string): string {
  const path = join(folder, name);
  writeFileSync(path, `#!/bin/sh\n${text}\n`, { mode: 0o755 });
  return path;
}

describe('finding FFmpeg', () => {
  it('takes the build that npm installed where the PATH has none', async () => {
    const build = await findFfmpeg({ PATH: '' });
    expect(['bundled', 'ffmpeg-static']).toContain(build.source);
    expect(build.versionLine).toMatch(/^ffmpeg version /);
    expect(build.libavcodecMajorMinor[0]).toBeGreaterThanOrEqual(58);
    const [major, minor] = build.libavcodecMajorMinor;
    expect(build.supportsFpsMode).toBe(major > 59 || (major === 59 && minor >= 37));
  });

  it.each(['LAGREEL_FFMPEG', 'FFMPEG_PATH'])(
    '%s that does not run is an error, not a hint',
    async (variable) => {
      const error = await findFfmpeg({ [variable]: '/nope', PATH: process.env.PATH }).catch(
        (cause: unknown) => cause,
      );
      expect(error).toMatchObject({ name: 'AnalysisError', code: 'decoder-missing', exitCode: 3 });
      expect((error as Error).message).toBe(
        `${variable} names /nope, which is no FFmpeg that runs (no such file); ` +
          'set it to a working ffmpeg program, or unset it to let lagreel choose.',
      );
    },
  );

  it('prefers LAGREEL_FFMPEG to FFMPEG_PATH, and both to the rest', () => {
    const sources = ffmpegCandidates({ FFMPEG_PATH: '/b', LAGREEL_FFMPEG: '/a', PATH: '/bin' }).map(
      (c) => c.source,
    );
    expect(sources.slice(0, 2)).toEqual(['LAGREEL_FFMPEG', 'FFMPEG_PATH']);
    expect(sources.indexOf('PATH')).toBeLessThan(sources.indexOf('bundled'));
  });

  it('does not look into relative folders of the PATH', () => {
    const paths = ffmpegCandidates({ PATH: '.:bin:' }).filter((c) => c.source === 'PATH');
    expect(paths).toEqual([]);
  });

  it('does not take a program that is there but is no FFmpeg, or a broken one', async () => {
    const bin = join(folder, 'bin');
    mkdirSync(bin, { recursive: true });
    writeFileSync(join(bin, 'ffmpeg'), 'half a download', { mode: 0o755 });
    const build = await findFfmpeg({ PATH: bin });
    expect(build.source).not.toBe('PATH');
    const impostor = program('impostor', 'echo hello');
    await expect(findFfmpeg({ LAGREEL_FFMPEG: impostor })).rejects.toThrow(/does not answer as FFmpeg/);
  });

  it('says what to do where there is none at all', async () => {
    await expect(firstThatRuns([{ path: '/nope', source: 'PATH', explicit: false }])).rejects.toThrow(
      'No FFmpeg that runs was found: install FFmpeg, or set LAGREEL_FFMPEG to the path of an ffmpeg program.',
    );
  });

  it('knows -fps_mode by the version of libavcodec', async () => {
    const answer = (version: string) =>
      program(`v${version}`, `echo "ffmpeg version X"; echo "libavcodec     ${version}.100"`);
    const modes = [];
    for (const version of ['58. 42', '59. 36', '59. 37', '60.  3']) {
      modes.push((await findFfmpeg({ LAGREEL_FFMPEG: answer(version) })).supportsFpsMode);
    }
    expect(modes).toEqual([false, false, true, true]);
  });
});

describe('running FFmpeg', () => {
  it('keeps the first and the last of a flood of messages', async () => {
    const chatty = program(
      'chatty',
      'if [ "$1" = -version ]; then echo "ffmpeg version X"; echo "libavcodec 60. 1.1"; exit; fi\n' +
        'echo FIRST >&2; i=0; while [ $i -lt 4000 ]; do echo "line $i of a flood of messages" >&2; i=$((i+1)); done; echo LAST >&2; exit 7',
    );
    let lines = 0;
    const run = { args: [], onOutput: [], onMessage: () => void lines++ };
    const end = await runFfmpeg(run, { LAGREEL_FFMPEG: chatty });
    expect(end.exitCode).toBe(7);
    expect(end.messages).toMatch(/^FIRST/);
    expect(end.messages).toMatch(/LAST\n$/);
    expect(end.messages.length).toBeLessThan(17_000);
    expect(lines).toBe(4002);
  });

  it('ends the child when the parent is told to end', async () => {
    const module = fileURLToPath(new URL('../../src/clip/ffmpeg.ts', import.meta.url));
    const script = join(folder, 'parent.mts');
    writeFileSync(
      script,
      `import { runFfmpeg, outputPipe } from ${JSON.stringify(module)};
       runFfmpeg({ args: ['-loglevel', 'error', '-re', '-f', 'lavfi', '-i', 'testsrc=size=64x64', '-f', 'rawvideo', outputPipe(0)],
         onOutput: [() => { console.log('running'); return undefined; }] });`,
    );
    const parent = spawn(process.execPath, ['--import', 'tsx', script], {
      stdio: ['ignore', 'pipe', 'inherit'],
      cwd: fileURLToPath(new URL('../..', import.meta.url)),
    });
    await new Promise<void>((resolve) => parent.stdout.once('data', () => resolve()));
    const children = await new Promise<string>((resolve) =>
      execFile('ps', ['-o', 'pid=,comm=', '--ppid', String(parent.pid)], (_, stdout) => resolve(stdout)),
    );
    const pid = Number(/(\d+) ffmpeg/.exec(children)?.[1]);
    expect(pid).toBeGreaterThan(0);
    parent.kill('SIGTERM');
    const signal = await new Promise((resolve) => parent.once('exit', (_, by) => resolve(by)));
    expect(signal).toBe('SIGTERM');
    await expect.poll(() => isAlive(pid), { timeout: 3000 }).toBe(false);
  });

  it('names its output pipes past the three standard ones', () => {
    expect([0, 1, 2].map(outputPipe)).toEqual(['pipe:1', 'pipe:3', 'pipe:4']);
  });
});

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch {
    return false;
  }
}
