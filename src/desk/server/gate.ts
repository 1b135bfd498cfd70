/** Who may ask: only the page of this very desk, on this machine, with the secret of this run. */
import { createHash, timingSafeEqual } from 'node:crypto';
import type { HttpBindings } from '@hono/node-server';
import type { Context, MiddlewareHandler } from 'hono';
import { SECRET_HEADER } from '../protocol.js';
import { Refusal } from './refusal.js';

/** What Hono hands to every handler of the desk. */
export interface DeskEnv {
  readonly Bindings: HttpBindings;
}

/** What is checked against. */
export interface GateOptions {
  /** The port that is listened on; known once the server listens. */
  readonly port: () => number;
  readonly secret: string;
  /** Requests that may be open at a time. */
  readonly openRequests: number;
  /** Bytes that a request may carry. */
  readonly bodyBytes: number;
}

/** What a browser sends for the page; nothing else is looked at. */
const METHODS = ['GET', 'HEAD', 'PUT', 'POST', 'DELETE'];

/** The page loads itself and talks to this server; nothing else, and nobody may frame it. */
const PAGE_POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' blob:",
  "connect-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ');

/** Headers of every answer; a handler may set a policy of its own. */
function setHeaders(c: Context<DeskEnv>): void {
  const { headers } = c.res;
  if (!headers.has('content-security-policy')) headers.set('content-security-policy', PAGE_POLICY);
  headers.set('x-content-type-options', 'nosniff');
  headers.set('referrer-policy', 'no-referrer');
  headers.set('cross-origin-resource-policy', 'same-origin');
  headers.set('cross-origin-opener-policy', 'same-origin');
  headers.set('cache-control', 'no-store');
}

/** The evidence of a region is asked for by the region's name, which may hold anything; it is never a path. */
const NAMED_REGION = /^(\/api\/clips\/[0-9a-f]{16}\/strip\/\d+)\/[^/\\?#]+$/;

/** A path as the desk's own page writes them: no climbing, nothing encoded, nothing doubled. */
function isPlainPath(raw: string): boolean {
  const path = raw.split('?', 1)[0]!;
  const fixed = NAMED_REGION.exec(path)?.[1] ?? path;
  return /^(\/[A-Za-z0-9_-][A-Za-z0-9._-]*)*\/?$/.test(fixed) && !fixed.includes('..');
}

/**
 * The checks that stand before everything else, in order: path, host, origin, method, size, secret, number of open
 * requests.
 */
export function gate({ port, secret, openRequests, bodyBytes }: GateOptions): MiddlewareHandler<DeskEnv> {
  const expected = digest(secret);
  let open = 0;
  return async (c, next) => {
    const { incoming } = c.env;
    const hosts = [`127.0.0.1:${port()}`, `localhost:${port()}`];
    const { host, origin } = incoming.headers;
    const site = incoming.headers['sec-fetch-site'];
    try {
      if (!isPlainPath(incoming.url ?? '')) throw new Refusal(400, 'This address is none of the desk.');
      if (host === undefined || !hosts.includes(host))
        throw new Refusal(403, 'The desk answers only under its own address on this machine.');
      if (origin !== undefined && origin !== `http://${host}`)
        throw new Refusal(403, 'The desk answers only its own page.');
      if (!METHODS.includes(incoming.method ?? '')) throw new Refusal(405, 'The desk knows no such method.');
      // The size is said beforehand, so that nothing has to be read to find out.
      if (incoming.headers['transfer-encoding'] !== undefined)
        throw new Refusal(411, 'A request must say how long it is.');
      if (Number(incoming.headers['content-length'] ?? 0) > bodyBytes)
        throw new Refusal(413, `The request is larger than ${bodyBytes} bytes.`);
      if (c.req.path.startsWith('/api')) {
        if (site !== undefined && site !== 'same-origin')
          throw new Refusal(403, 'The desk answers only its own page.');
        const given = incoming.headers[SECRET_HEADER];
        if (typeof given !== 'string' || !timingSafeEqual(digest(given), expected))
          throw new Refusal(
            403,
            'The secret of this desk is missing or wrong: open the address that lagreel desk printed.',
          );
      }
      if (open >= openRequests) throw new Refusal(503, 'The desk is busy: ask again in a moment.');
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      c.res = c.json({ error: error.message }, error.status);
      setHeaders(c);
      return;
    }
    open++;
    try {
      await next();
    } finally {
      open--;
      setHeaders(c);
    }
  };
}

/** Of equal length, whatever was sent. */
function digest(text: string): Buffer {
  return createHash('sha256').update(text).digest();
}
