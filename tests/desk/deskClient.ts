/** A desk on a folder of its own, and raw requests to it: every header and every byte of the path as the test says. */
import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { type IncomingHttpHeaders, request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type JobAnswer, SECRET_HEADER } from '../../src/desk/protocol.js';
import { type Desk, type DeskOptions, startDesk } from '../../src/desk/server/startDesk.js';

const SAMPLE_CLIPS = fileURLToPath(new URL('../../sample-clips/', import.meta.url));
const root = mkdtempSync(join(tmpdir(), 'lagreel-desk-test-'));
process.on('exit', () => rmSync(root, { recursive: true, force: true }));

/** Samples are kept there, and nowhere else. */
export const CACHE_HOME: string = join(root, 'cache');

/** An empty folder, removed when this process ends. */
export function scratch(): string {
  return mkdtempSync(join(root, 'folder-'));
}

/** A folder with copies of files of the sample clips, `[file, as]` for another name. */
export function folderOf(...files: readonly (string | readonly [file: string, as: string])[]): string {
  const folder = scratch();
  for (const file of files) {
    const [from, to] = typeof file === 'string' ? [file, file] : file;
    copyFileSync(join(SAMPLE_CLIPS, from), join(folder, to));
  }
  return folder;
}

/** An answer as it came. */
export interface Answer {
  readonly status: number;
  readonly headers: IncomingHttpHeaders;
  readonly bytes: Buffer;
  /** The body as JSON; a failing test shows what it was instead. */
  json<T = { readonly error: string }>(): T;
}

/** A raw request. Headers given as undefined are left out. */
export function ask(
  port: number,
  method: string,
  path: string,
  headers: Readonly<Record<string, string | undefined>> = {},
  body?: string | Buffer,
): Promise<Answer> {
  const sent = Object.fromEntries(Object.entries(headers).filter(([, value]) => value !== undefined));
  return new Promise((resolve, reject) => {
    const asked = request(
      { host: '127.0.0.1', port, method, path, headers: sent as Record<string, string>, agent: false },
      (response) => {
        const pieces: Buffer[] = [];
        response.on('data', (piece: Buffer) => pieces.push(piece));
        response.on('error', reject);
        response.on('end', () => {
          const bytes = Buffer.concat(pieces);
          resolve({
            status: response.statusCode ?? 0,
            headers: response.headers,
            bytes,
            json: () => JSON.parse(bytes.toString('utf8')),
          });
        });
      },
    );
    asked.on('error', reject);
    asked.end(body);
  });
}

/** A desk with what its page would send. */
export interface TestDesk extends Desk {
  readonly folder: string;
  get(path: string): Promise<Answer>;
  send(method: string, path: string, body?: unknown): Promise<Answer>;
  /** Waits for the end of a job. */
  job(answer: Answer): Promise<JobAnswer>;
  /** The id of a clip. */
  idOf(name: string): Promise<string>;
}

/** Starts a desk; close it. */
export async function testDesk(folder: string, options: DeskOptions = {}): Promise<TestDesk> {
  const cache = { folder: join(CACHE_HOME, 'lagreel', 'samples'), limitBytes: 2 ** 30 };
  const desk = await startDesk(folder, { cache, ...options });
  const send = (method: string, path: string, body?: unknown) =>
    ask(
      desk.port,
      method,
      path,
      { [SECRET_HEADER]: desk.secret, ...(body === undefined ? {} : { 'content-type': 'application/json' }) },
      body === undefined ? undefined : JSON.stringify(body),
    );
  const get = (path: string) => send('GET', path);
  return {
    ...desk,
    folder,
    send,
    get,
    async job(answer) {
      if (answer.status !== 202) throw new Error(`no job: ${answer.status} ${answer.bytes}`);
      const { job } = answer.json<{ readonly job: string }>();
      for (;;) {
        const state = (await get(`/api/jobs/${job}`)).json<JobAnswer>();
        if (state.state !== 'running') return state;
        await new Promise((resolve) => setTimeout(resolve, 20));
      }
    },
    async idOf(name) {
      const { clips } = (await get('/api/clips')).json<{
        readonly clips: readonly { id: string; name: string }[];
      }>();
      const clip = clips.find((c) => c.name === name);
      if (!clip) throw new Error(`no clip ${name}`);
      return clip.id;
    },
  };
}
