/**
 * FFmpeg as a sandboxed tool, promise by promise: what it is started with, what it may open, how large, how long, and
 * that nothing is left of it. Looks into /proc: Linux only.
 */
import { appendFileSync, chmodSync, readFileSync, truncateSync, utimesSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeAll, describe, expect, it } from 'vitest';
import { inputArguments, MAX_PIXELS } from '../../src/clip/clipFile.js';
import { encodeRawVideo } from '../../src/clip/encode.js';
import { type FfmpegRun, findFfmpeg, runFfmpeg } from '../../src/clip/ffmpeg.js';
import { openClip } from '../../src/clip/openClip.js';
import { readPacketTimes } from '../../src/clip/packetTimes.js';
import { readFacts } from '../../src/clip/readFacts.js';
import { readPictures } from '../../src/clip/readPictures.js';
import { AnalysisError } from '../../src/errors.js';
import { patchClip } from './boxPatch.js';
import { childrenAlive } from './childrenAlive.js';
import {
  encodeNumbered,
  H264_WITH_B_FRAMES,
  HEIGHT_PX,
  NUMBER_RECT,
  scratchFolder,
  WIDTH_PX,
} from './numberedClip.js';

const folder = scratchFolder();
const at = (name: string) => join(folder, name);
const base = at('base.mp4');
let real = '';

beforeAll(async () => {
  real = (await findFfmpeg()).path;
  await encodeNumbered(base, 40, ...H264_WITH_B_FRAMES);
});

afterEach(() => {
  delete process.env.LAGREEL_FFMPEG;
  expect(childrenAlive()).toEqual([]);
});

/** A program that answers as FFmpeg and then does as the shell lines say. */
function program(name: string, lines: string): string {
  const path = at(name);
  const answer = `if [ "$1" = -version ]; then exec '${real}' -version; fi`;
  writeFileSync(path, `#!/bin/sh\n${answer}\n${lines}\n`);
  chmodSync(path, 0o755);
  return path;
}

async function make(...args: string[]): Promise<void> {
  const { exitCode, messages } = await runFfmpeg({ args: ['-y', ...args], onOutput: [] });
  if (exitCode !== 0) throw new Error(messages);
}

async function sentenceOf(reading: Promise<unknown>): Promise<string> {
  const error = await reading.then(
    () => null,
    (cause: unknown) => cause,
  );
  expect(error).toBeInstanceOf(AnalysisError);
  const { message } = error as AnalysisError;
  expect(message).not.toMatch(/\n/);
  return message;
}

describe('how FFmpeg is started on a clip', () => {
  it('always with the same bounds in front of the one file, without standard input or settings of the user', async () => {
    const log = at('log.txt');
    process.env.FFREPORT = `file=${at('report.txt')}`;
    await make('-i', base, '-c', 'copy', at('base.mkv'));
    process.env.LAGREEL_FFMPEG = program(
      'noting',
      `real='${real}'\ncase "$*" in *-i*) printf '%s\\t%s\\t%s\\n' "$(readlink /proc/$$/fd/0)" "$FFREPORT" "$*" >> '${log}';; esac\nexec "$real" "$@"`,
    );
    try {
      for (const path of [base, at('base.mkv')]) {
        const clip = await openClip(path);
        await clip.readRects([NUMBER_RECT], () => undefined);
        await clip.readOverview(64, () => undefined);
        await clip.readStill(0.05, 64);
        const request = { runs: [[0, 1]], width: 64, height: 16, scaling: 'area' } as const;
        for await (const _ of readPictures(path, clip.facts, request));
      }
    } finally {
      delete process.env.FFREPORT;
    }
    const runs = readFileSync(log, 'utf8')
      .trim()
      .split('\n')
      .map((line) => line.split('\t'));
    // Facts, interlacing and four readings of each; the packets of Matroska, too.
    expect(runs.length).toBe(13);
    for (const [stdin, report, args] of runs) {
      expect(stdin).toMatch(/^(\/dev\/null|pipe:\[\d+\]|socket:\[\d+\])$/);
      expect(report).toBe('');
      expect(args).toContain('-nostdin');
      expect(args!.match(/ -i /g)).toHaveLength(1);
      const before = args!.slice(0, args!.indexOf(' -i '));
      for (const bound of [
        '-protocol_whitelist file ',
        '-format_whitelist mov,matroska ',
        `-max_pixels ${MAX_PIXELS} `,
        '-max_streams 32 ',
        '-max_alloc 536870912',
      ])
        expect(`${before} `).toContain(bound);
      expect(args).toMatch(/ -i file:\//);
      expect(args).toMatch(/ pipe:1( |$)|^(?!.*-map)/);
    }
  });

  it('closes the standard input of the runs that have a pipe there', async () => {
    process.env.LAGREEL_FFMPEG = program(
      'reading',
      `case "$*" in *rgb24*) cat > '${at('stdin.txt')}'; echo END >> '${at('stdin.txt')}';; esac\nexec '${real}' "$@"`,
    );
    const clip = await openClip(base);
    await clip.readStill(0.05, 64);
    expect(readFileSync(at('stdin.txt'), 'utf8')).toBe('END\n');
  });
});

describe('what FFmpeg may open, even where a file passes the look at its first bytes', () => {
  const bait = (name: string, text: string) => {
    writeFileSync(at(name), text);
    return name;
  };
  it.each([
    ['a concat script', () => bait('concat.mp4', `ffconcat version 1.0\nfile '${base}'\n`)],
    [
      'an HLS list',
      () => bait('hls.mp4', `#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\n${base}\n#EXT-X-ENDLIST\n`),
    ],
    [
      'a DASH list',
      () =>
        bait(
          'dash.mp4',
          `<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011" type="static" mediaPresentationDuration="PT1S"><Period><AdaptationSet mimeType="video/mp4"><Representation id="1" bandwidth="1"><BaseURL>${base}</BaseURL></Representation></AdaptationSet></Period></MPD>`,
        ),
    ],
    [
      'a session description',
      () => bait('sdp.mp4', 'v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nt=0 0\nm=video 9 RTP/AVP 96\n'),
    ],
    [
      'a still picture',
      () => bait('svg.mp4', '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>'),
    ],
  ])('%s is not followed', async (_, prepare) => {
    const { exitCode, messages } = await runFfmpeg({ args: inputArguments(at(prepare())), onOutput: [] });
    expect(exitCode).toBe(1);
    expect(messages).not.toMatch(/Stream #|Opening/);
  });

  it.each([
    'concat:base.mp4|base.mp4',
    'pipe:0',
    'data:,x',
    'http://127.0.0.1/x.mp4',
    '-y',
    '%03d.mp4',
    'subfile,,start,0,end,9,,:base.mp4',
  ])('the name %s is a name and nothing else', async (name) => {
    expect(inputArguments(name).at(-1)).toBe(`file:${process.cwd()}/${name.replace('//', '/')}`);
    expect(await sentenceOf(readFacts(name))).toMatch(/^There is no file /);
  });
});

describe('how large', () => {
  it('refuses pictures of more pixels than any high-speed film', async () => {
    const [widthPx, heightPx] = [4608, 3456];
    await encodeRawVideo({
      widthPx,
      heightPx,
      pixelFormat: 'gray',
      rateHz: 30,
      frames: [new Uint8Array(widthPx * heightPx), new Uint8Array(widthPx * heightPx)],
      outputPath: at('vast.mp4'),
      outputOptions: ['-c:v', 'libx264', '-preset', 'ultrafast', '-pix_fmt', 'yuv420p'],
    });
    expect(await sentenceOf(readFacts(at('vast.mp4')))).toMatch(/4608 x 3456 px, more than lagreel reads/);
  });

  it('refuses more streams than any phone writes', async () => {
    const maps = Array.from({ length: 40 }, () => ['-map', '0:v']).flat();
    await make('-i', base, ...maps, '-c', 'copy', at('streams.mkv'));
    expect(await sentenceOf(readFacts(at('streams.mkv')))).toMatch(/^streams\.mkv cannot be read/);
  });

  it('refuses a file that claims an absurd length before it reads it', async () => {
    writeFileSync(at('sparse.mp4'), readFileSync(base));
    truncateSync(at('sparse.mp4'), 300 * 2 ** 30);
    const startMs = performance.now();
    expect(await sentenceOf(readFacts(at('sparse.mp4')))).toMatch(/claims 300 GiB, more than lagreel reads/);
    expect(performance.now() - startMs).toBeLessThan(2000);
  });

  it('reads no more frames than any recording has, whatever the file says', async () => {
    process.env.LAGREEL_FFMPEG = program('endless', `echo '#tb 0: 1/240'; exec yes '0, 1, 1, 1, 16, 0x0'`);
    expect(await readPacketTimes(base)).toBeNull();
  });

  it('takes a long edit list as it takes a short one', async () => {
    const edits = Array.from({ length: 5000 }, () => ({ durationS: 0.01, mediaTicks: 0, rate: 1 }));
    patchClip(base, at('edits.mp4'), { edits });
    const startMs = performance.now();
    expect((await readFacts(at('edits.mp4'))).editList).toBe('pieces');
    expect(performance.now() - startMs).toBeLessThan(5000);
  });

  it('finds the stream behind tags of any length', async () => {
    const tags = ['title', 'comment', 'artist'].flatMap((tag) => [
      '-metadata',
      `${tag}=${'Stream #0:0: '.repeat(2000)}`,
    ]);
    await make('-i', base, '-c', 'copy', ...tags, at('tags.mp4'));
    expect(await readFacts(at('tags.mp4'))).toMatchObject({ codedWidth: WIDTH_PX, codedHeight: HEIGHT_PX });
  });
});

describe('how long, and how much memory', () => {
  const limits = { stallS: 1, memoryBytes: 200 * 2 ** 20 };
  const run = (path: string, more: Partial<FfmpegRun> = {}) =>
    sentenceOf(
      runFfmpeg({ args: [], onOutput: [() => undefined], limits, ...more }, { LAGREEL_FFMPEG: path }),
    );

  it('ends a child that gives no sign of life', async () => {
    expect(await run(program('silent', 'exec sleep 60'))).toMatch(/no sign of life for 1 s .*was stopped/);
  });
  it('leaves one alone that works slowly', async () => {
    const slow = program('slow', 'for i in 1 2 3 4 5 6 7 8; do sleep 0.4; echo x; done');
    const end = await runFfmpeg(
      { args: [], onOutput: [() => undefined], limits: { ...limits, stallS: 2 } },
      { LAGREEL_FFMPEG: slow },
    );
    expect(end.exitCode).toBe(0);
  });
  it('ends a child that takes too much memory', async () => {
    const greedy = program('greedy', 'exec tail /dev/zero');
    expect(await run(greedy, { limits: { ...limits, stallS: 60 } })).toMatch(
      /took more than 200 MB of memory/,
    );
  });
  it('tells in one sentence where it is killed by somebody else', async () => {
    process.env.LAGREEL_FFMPEG = program(
      'killed',
      `case "$*" in *framecrc*) kill -9 $$;; esac\nexec '${real}' "$@"`,
    );
    const clip = await openClip(base);
    expect(await sentenceOf(clip.readRects([NUMBER_RECT], () => undefined))).toMatch(
      /could not decode base\.mp4 to its end/,
    );
  });
});

describe('a file that is not the same all through', () => {
  it('is refused where it grows while it is read', async () => {
    writeFileSync(at('growing.mp4'), readFileSync(base));
    const clip = await openClip(at('growing.mp4'));
    let once = true;
    const reading = clip.readRects([NUMBER_RECT], () => {
      if (once) appendFileSync(at('growing.mp4'), 'more');
      once = false;
    });
    expect(await sentenceOf(reading)).toMatch(/growing\.mp4 changed or went away while it was read/);
  });
  it('is refused where it is replaced between two readings', async () => {
    writeFileSync(at('other.mp4'), readFileSync(base));
    const clip = await openClip(at('other.mp4'));
    utimesSync(at('other.mp4'), 1, 1);
    expect(await sentenceOf(clip.readOverview(64, () => undefined))).toMatch(/changed or went away/);
  });
  it('is refused where its pictures change their size', async () => {
    const raw = ['-c', 'copy', '-bsf:v', 'h264_mp4toannexb', '-f', 'h264'];
    await make('-i', base, ...raw, at('a.h264'));
    await make('-i', base, '-vf', 'scale=128:32', '-c:v', 'libx264', '-pix_fmt', 'yuv420p', at('small.mp4'));
    await make('-i', at('small.mp4'), ...raw, at('b.h264'));
    writeFileSync(at('both.h264'), Buffer.concat([readFileSync(at('a.h264')), readFileSync(at('b.h264'))]));
    await make('-r', '240', '-i', at('both.h264'), '-c', 'copy', at('both.mp4'));
    const clip = await openClip(at('both.mp4'));
    expect(await sentenceOf(clip.readRects([NUMBER_RECT], () => undefined))).toMatch(
      /changes the size of its pictures on the way \(256 x 64, then 128 x 32\)/,
    );
  });
});
