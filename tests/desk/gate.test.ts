/** Who is let in: nobody but the desk's own page on this machine, and to nothing but the folder. */
import { mkdirSync, symlinkSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { networkInterfaces } from 'node:os';
import { join } from 'node:path';
import { Hono } from 'hono';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type FolderAnswer, SECRET_HEADER } from '../../src/desk/protocol.js';
import { type DeskEnv, gate } from '../../src/desk/server/gate.js';
import { ask, folderOf, scratch, type TestDesk, testDesk } from './deskClient.js';

let desk: TestDesk;
let outside: string;
beforeAll(async () => {
  outside = folderOf('cedar-sprite.mp4', 'cedar-sprite.recipe.json');
  writeFileSync(join(outside, 'private.json'), '{"private":true}');
  const folder = folderOf('cedar-sprite.mp4', ['cedar-sprite.mp4', 'linked.mp4']);
  symlinkSync(join(outside, 'cedar-sprite.mp4'), join(folder, 'out.mp4'));
  symlinkSync(join(outside, 'nothing.mp4'), join(folder, 'dangling.mp4'));
  symlinkSync(join(folder, 'cedar-sprite.mp4'), join(folder, 'inside.mp4'));
  symlinkSync(join(outside, 'cedar-sprite.recipe.json'), join(folder, 'linked.recipe.json'));
  mkdirSync(join(folder, 'folder.mp4'));
  desk = await testDesk(folder, { pageFolder: scratch() });
});
afterAll(() => desk?.close());

const good = () => ({ [SECRET_HEADER]: desk.secret });

describe('a request below /api', () => {
  it('is answered with the secret', async () => {
    expect((await ask(desk.port, 'GET', '/api/clips', good())).status).toBe(200);
    const local = { ...good(), host: `localhost:${desk.port}`, origin: `http://localhost:${desk.port}` };
    expect((await ask(desk.port, 'GET', '/api/clips', local)).status).toBe(200);
    const fetched = { ...good(), 'sec-fetch-site': 'same-origin' };
    expect((await ask(desk.port, 'GET', '/api/clips', fetched)).status).toBe(200);
  });
  it.each([
    ['no secret', () => ({ [SECRET_HEADER]: undefined })],
    ['an empty secret', () => ({ [SECRET_HEADER]: '' })],
    ['a wrong secret', () => ({ [SECRET_HEADER]: 'A'.repeat(32) })],
    ['a part of the secret', () => ({ [SECRET_HEADER]: desk.secret.slice(0, -1) })],
    ['a foreign host', () => ({ host: 'lantern.example' })],
    ['a foreign host with the port', () => ({ host: `lantern.example:${desk.port}` })],
    ['the host without the port', () => ({ host: '127.0.0.1' })],
    ['another port', () => ({ host: `127.0.0.1:${desk.port + 1}` })],
    ['another loopback name', () => ({ host: `127.0.0.2:${desk.port}` })],
    ['a foreign origin', () => ({ origin: 'http://lantern.example' })],
    ['no origin at all, said so', () => ({ origin: 'null' })],
    ['the other name as origin', () => ({ origin: `http://localhost:${desk.port}` })],
    ['a secure origin', () => ({ origin: `https://127.0.0.1:${desk.port}` })],
    ['a foreign page', () => ({ 'sec-fetch-site': 'cross-site' })],
    ['a page of another port', () => ({ 'sec-fetch-site': 'same-site' })],
    ['an address typed in', () => ({ 'sec-fetch-site': 'none' })],
  ])('is refused with %s', async (_, headers) => {
    for (const [method, path] of [
      ['GET', '/api/clips'],
      ['GET', '/api/nowhere'],
      ['POST', '/api/compare'],
    ] as const) {
      const answer = await ask(desk.port, method, path, { ...good(), ...headers() });
      expect(answer.status).toBe(403);
      expect(answer.json().error).toMatch(/^The .*[.]$/);
      expect(answer.headers['access-control-allow-origin']).toBeUndefined();
    }
  });
  it('is refused where the browser asks first', async () => {
    const asked = { origin: 'http://lantern.example', 'access-control-request-method': 'PUT' };
    const answer = await ask(desk.port, 'OPTIONS', '/api/clips', asked);
    expect(answer.status).toBe(403);
    expect(Object.keys(answer.headers).filter((name) => name.startsWith('access-control'))).toEqual([]);
  });
  it('is refused without a host', async () => {
    const said = await new Promise<string>((resolve, reject) => {
      let text = '';
      const socket = connect(desk.port, '127.0.0.1', () => {
        socket.write(`GET /api/clips HTTP/1.0\r\n${SECRET_HEADER}: ${desk.secret}\r\n\r\n`);
      });
      socket.on('data', (piece) => {
        text += piece;
      });
      socket.on('end', () => resolve(text)).on('error', reject);
    });
    expect(said).toMatch(/^HTTP\/1\.[01] (400|403) /);
  });
});

describe('the folder', () => {
  it('shows its clips by their names, and never its path', async () => {
    const answer = await desk.get('/api/clips');
    const { clips, left } = answer.json<FolderAnswer>();
    expect(clips.map((c) => c.name)).toEqual(['cedar-sprite.mp4', 'inside.mp4', 'linked.mp4']);
    expect(left.map((l) => l.name)).toEqual(['dangling.mp4', 'folder.mp4', 'out.mp4']);
    expect(left[2]!.reason).toBe('It is a link that leads out of the folder.');
    expect(answer.bytes.toString()).not.toContain(desk.folder);
  });
  it.each([
    '/api/clips/../../../etc/passwd',
    '/../../etc/passwd',
    '/..',
    '/%2e%2e/%2e%2e/etc/passwd',
    '/api/clips/%2e%2e%2fprivate.json',
    '/api/clips/..%2f..%2fprivate.json/thumbnail',
    '/api/clips/%252e%252e%252fprivate.json',
    '/api/clips/..%5cprivate.json',
    '/api/clips/..\\private.json',
    '/api//clips',
    '//lantern.example/api/clips',
    '/api/clips/%00',
    '/api/clips/cedar-sprite.mp4%00.json',
    '/api/clips/~/thumbnail',
    '/.git/config',
    'http://lantern.example/api/clips',
    '*',
  ])('is not left by %s', async (path) => {
    const answer = await ask(desk.port, 'GET', path, good());
    expect(answer.status).toBe(400);
    expect(answer.bytes.toString()).not.toContain('private');
  });
  it.each([
    '/server/startDesk.js',
    '/protocol.js',
    '/package.json',
    '/etc/passwd',
    '/cedar-sprite.mp4',
    '/report/0123456789abcdef0123456789abcdef',
  ])('is not all that would be served: %s', async (path) => {
    expect((await ask(desk.port, 'GET', path, good())).status).toBe(404);
  });
  it('knows clips by the ids of its list alone', async () => {
    const [clip] = (await desk.get('/api/clips')).json<FolderAnswer>().clips;
    expect(clip!.id).toMatch(/^[0-9a-f]{16}$/);
    for (const id of ['cedar-sprite.mp4', 'out.mp4', clip!.id.toUpperCase(), `${clip!.id}0`, 'private.json'])
      expect((await desk.get(`/api/clips/${id}`)).status).toBe(id === clip!.id ? 200 : 404);
  });
  it('does not follow a recipe that is a link out of it, to read or to write', async () => {
    const id = await desk.idOf('linked.mp4');
    const answer = await desk.get(`/api/clips/${id}`);
    const { recipe, recipeTag, faults, emptyRecipe } = answer.json<Record<string, unknown>>();
    expect([recipe, recipeTag]).toEqual([null, null]);
    expect(faults).toEqual([
      expect.stringContaining('linked.recipe.json is a link that leads out of the folder'),
    ]);
    for (const [method, path, body] of [
      ['PUT', 'recipe', { recipe: emptyRecipe, ifTag: null }],
      ['POST', 'measure', { save: true }],
    ] as const)
      expect((await desk.send(method, `/api/clips/${id}/${path}`, body)).status).toBe(403);
  });
});

describe('what a request may carry', () => {
  it('JSON only, an object only, known keys only', async () => {
    const id = await desk.idOf('cedar-sprite.mp4');
    const put = (type: string | undefined, body: string) =>
      ask(desk.port, 'PUT', `/api/clips/${id}/recipe`, { ...good(), 'content-type': type }, body);
    expect((await put('text/plain', '{}')).status).toBe(415);
    expect((await put(undefined, '{}')).status).toBe(415);
    expect((await put('application/x-www-form-urlencoded', 'a=b')).status).toBe(415);
    for (const body of ['', '{', '[]', 'null', '"a"', '{"path":"/etc/passwd"}', '{"recipe":{},"ifTag":"x"}'])
      expect([body, (await put('application/json', body)).status]).toEqual([body, 400]);
    expect((await put('application/json', '{"recipe":{},"ifTag":null}')).status).toBe(422);
  });
  it('no more than 16 MB, said or sent', async () => {
    const path = `/api/clips/${await desk.idOf('cedar-sprite.mp4')}/recipe`;
    const large = Buffer.alloc(16 * 1024 * 1024 + 1, 0x20);
    const type = { 'content-type': 'application/json' };
    // The server may hang up before it has all of it.
    const status = (headers: Record<string, string>) =>
      ask(desk.port, 'PUT', path, { ...good(), ...type, ...headers }, large).then(
        (answer) => answer.status,
        (cause: NodeJS.ErrnoException) => cause.code,
      );
    expect([413, 'ECONNRESET', 'EPIPE']).toContain(await status({ 'content-length': String(large.length) }));
    expect([411, 'ECONNRESET', 'EPIPE']).toContain(await status({ 'transfer-encoding': 'chunked' }));
    expect((await desk.get('/api/clips')).status).toBe(200);
  });
  it('methods that are there', async () => {
    for (const [method, status] of [
      ['POST', 404],
      ['PUT', 404],
      ['DELETE', 404],
      ['PATCH', 405],
      ['OPTIONS', 405],
      ['TRACE', 405],
    ] as const)
      expect([method, (await ask(desk.port, method, '/api/clips', good())).status]).toEqual([method, status]);
  });
});

describe('the server', () => {
  it('listens on the loopback address alone', async () => {
    const others = Object.values(networkInterfaces())
      .flatMap((all) => all ?? [])
      .filter((a) => a.family === 'IPv4' && !a.internal);
    for (const { address } of others) {
      const reached = await new Promise<boolean>((resolve) => {
        const socket = connect(desk.port, address, () => resolve(true));
        socket.on('error', () => resolve(false));
      });
      expect(reached).toBe(false);
    }
  });
  it('sends its policy with every answer', async () => {
    for (const path of ['/', '/api/clips', '/nowhere', '/..']) {
      const { headers } = await ask(desk.port, 'GET', path);
      expect(headers['content-security-policy']).toBe(
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
      );
      expect(headers['x-content-type-options']).toBe('nosniff');
      expect(headers['referrer-policy']).toBe('no-referrer');
      expect(headers['cache-control']).toBe('no-store');
    }
  });
  it('serves only so many requests at a time', async () => {
    const app = new Hono<DeskEnv>();
    let release = () => {};
    const held = new Promise<void>((resolve) => {
      release = resolve;
    });
    app.use(gate({ port: () => 1, secret: 's', openRequests: 2, bodyBytes: 9 }));
    app.get('/slow', async (c) => {
      await held;
      return c.text('done');
    });
    const send = async () => {
      const env = { incoming: { url: '/slow', method: 'GET', headers: { host: '127.0.0.1:1' } } };
      return (await app.request('/slow', {}, env)).status;
    };
    const [first, second, third] = [send(), send(), send()];
    expect(await third).toBe(503);
    release();
    expect(await Promise.all([first, second])).toEqual([200, 200]);
    expect(await send()).toBe(200);
  });
  it('has another secret each time, of 192 random bits', async () => {
    const other = await testDesk(scratch());
    await other.close();
    expect(other.secret).toMatch(/^[\w-]{32}$/);
    expect(other.secret).not.toBe(desk.secret);
    expect(other.address).toBe(`http://127.0.0.1:${other.port}/#${other.secret}`);
  });
});
