/** Starts the desk: one small server on the loopback address, for one folder, with a secret of its own. */
import { randomBytes } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import type { Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { createAdaptorServer } from '@hono/node-server';
import { Hono } from 'hono';
import { UsageError } from '../../errors.js';
import { isFolder, removeLeftovers } from '../../node.js';
import { packageFolder } from '../../packageFolder.js';
import type { SamplesCache } from '../../samples/cacheEntries.js';
import { benchLine } from './benchLine.js';
import { apiRoutes, fullRecipe } from './clipRoutes.js';
import { clipState } from './clipState.js';
import { deskFolder } from './deskFolder.js';
import { type DeskEnv, gate } from './gate.js';
import { jobList } from './jobs.js';
import { openClips } from './openClips.js';
import { Refusal, refusalOf } from './refusal.js';
import { REPORT_POLICY, reportTickets } from './reportTickets.js';

/** How to start. */
export interface DeskOptions {
  /** 0 or left out: a free one. */
  readonly port?: number;
  /** Where light of decoded regions is kept; default nowhere but in memory. */
  readonly cache?: SamplesCache;
  /** Folder of the built page; default where `npm run build` puts it. */
  readonly pageFolder?: string;
}

/** A desk that runs. */
export interface Desk {
  /** What to open, the secret in its fragment. */
  readonly address: string;
  readonly port: number;
  readonly secret: string;
  /** Process number of what measures; null before anything was measured. */
  benchPid(): number | null;
  /** Ends requests, jobs and decoders, and returns when nothing of them is left. */
  close(): Promise<void>;
}

const OPEN_REQUESTS = 48;
const CONNECTIONS = 64;
/** The largest recipe that there can be has a hundred thousand decisions. */
const BODY_BYTES = 16 * 1024 * 1024;
// A request may wait for a calculation of many seconds; it must not be taken for a dead one meanwhile.
const TIMEOUTS_MS = {
  headersTimeout: 60_000,
  requestTimeout: 90_000,
  keepAliveTimeout: 75_000,
  connectionsCheckingInterval: 5000,
};

const PAGE_FILES: Readonly<Record<string, readonly [file: string, type: string]>> = {
  '/': ['index.html', 'text/html; charset=utf-8'],
  '/desk.js': ['desk.js', 'text/javascript; charset=utf-8'],
  '/desk.css': ['desk.css', 'text/css; charset=utf-8'],
  '/icon.svg': ['icon.svg', 'image/svg+xml'],
};

/**
 * Starts a desk for a folder.
 * @throws UsageError where it is no folder, or the port is taken.
 */
export async function startDesk(folderPath: string, options: DeskOptions = {}): Promise<Desk> {
  if (!(await isFolder(folderPath)))
    throw new UsageError(`there is no folder ${folderPath}: give a folder with clips`);
  const folder = await deskFolder(folderPath);
  const secret = randomBytes(24).toString('base64url');
  const stop = new AbortController();
  const clips = openClips(stop.signal);
  const bench = benchLine({
    cache: options.cache ?? null,
    afterEnd: () => removeLeftovers(folder.root),
  });
  const jobs = jobList(folder.root);
  const tickets = reportTickets();
  const pageFolder = options.pageFolder ?? fileURLToPath(new URL('dist/desk/', packageFolder));
  let port = 0;

  const app = new Hono<DeskEnv>();
  app.use(gate({ port: () => port, secret, openRequests: OPEN_REQUESTS, bodyBytes: BODY_BYTES }));
  app.route('/api', apiRoutes({ folder, clips, jobs, tickets, bench }));
  app.get('/report/:ticket', async (c) => {
    const id = tickets.clipOf(c.req.param('ticket'));
    if (id === null) throw new Refusal(404, 'This report is not open any more: open it from the desk again.');
    const file = await folder.find(id);
    const state = await clipState(folder, file);
    const clip = await clips.open(file);
    const recipe = fullRecipe(clip, state.recipe, state);
    return c.html(await bench.ask({ kind: 'report', clip: clip.benchClip, recipe }), 200, {
      'content-security-policy': REPORT_POLICY,
    });
  });
  for (const [path, [name, type]] of Object.entries(PAGE_FILES)) {
    app.get(path, async (c) => {
      const bytes = await readFile(join(pageFolder, name)).catch(() => null);
      if (bytes === null) throw new Refusal(503, 'The page is not built: run npm run build.');
      return c.body(new Uint8Array(bytes), 200, { 'content-type': type });
    });
  }
  app.notFound((c) => c.json({ error: 'This address is none of the desk.' }, 404));
  app.onError((error, c) => {
    const { message, status, facts } = refusalOf(error, folder.root);
    return c.json({ error: message, ...facts }, status);
  });

  const server = createAdaptorServer({
    fetch: app.fetch,
    overrideGlobalObjects: false,
    serverOptions: { ...TIMEOUTS_MS, maxHeaderSize: 16_384 },
  }) as Server;
  server.maxConnections = CONNECTIONS;
  await listen(server, options.port ?? 0);
  ({ port } = server.address() as AddressInfo);
  return {
    address: `http://127.0.0.1:${port}/#${secret}`,
    port,
    secret,
    benchPid: () => bench.pid(),
    async close() {
      stop.abort(new Error('the desk was closed'));
      const closed = new Promise<void>((resolve) => server.close(() => resolve()));
      await jobs.close();
      await bench.close();
      await clips.close();
      server.closeAllConnections();
      await closed;
    },
  };
}

function listen(server: Server, port: number): Promise<void> {
  return new Promise((resolve, reject) => {
    server.once('error', (cause: NodeJS.ErrnoException) => {
      const why = cause.code === 'EADDRINUSE' ? 'another program has it' : (cause.code ?? cause.message);
      reject(
        new UsageError(`cannot listen on port ${port} (${why}): choose another with --port, or leave it out`),
      );
    });
    server.listen(port, '127.0.0.1', resolve);
  });
}
