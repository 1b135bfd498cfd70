/** Ctrl-C at the terminal ends the desk, its jobs and their decoders; nothing is left. Needs `npm run build` before. */
import { readdirSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { SECRET_HEADER } from '../../src/desk/protocol.js';
import { descendants, isAlive, lagreel } from '../end-to-end/program.js';
import { ask, folderOf } from './deskClient.js';

describe('lagreel desk', () => {
  it('says its address, works, and is gone after Ctrl-C', async () => {
    const folder = folderOf('alder-flat.mp4', 'alder-flat.recipe.json');
    const before = readdirSync(folder);
    let decoders: readonly number[] = [];
    let port = 0;
    const ended = await lagreel(['desk', folder, '--json', '--no-cache'], {
      onStart: (child) => {
        child.stdout!.once('data', async (text: string) => {
          const said = JSON.parse(text);
          port = said.port;
          const secret = new URL(said.address).hash.slice(1);
          const send = (method: string, path: string, body?: object) =>
            ask(
              port,
              method,
              path,
              { [SECRET_HEADER]: secret, ...(body ? { 'content-type': 'application/json' } : {}) },
              body && JSON.stringify(body),
            );
          const { clips } = (await send('GET', '/api/clips')).json<{
            readonly clips: readonly { id: string }[];
          }>();
          const at = `/api/clips/${clips[0]!.id}`;
          await send('GET', `${at}/frame/10`);
          await send('POST', `${at}/measure`, { save: true });
          // One stands by for stepping, one measures.
          while (decoders.length < 2) {
            decoders = descendants(child.pid!).flatMap((p) => (p.name.startsWith('ffmpeg') ? [p.pid] : []));
            await new Promise((resolve) => setTimeout(resolve, 5));
          }
          child.kill('SIGINT');
        });
      },
    });
    expect(ended.code).toBe(0);
    expect(JSON.parse(ended.out)).toMatchObject({ format: 'lagreel-desk', version: 1, port });
    expect(ended.said).toEqual([]);
    expect(decoders.filter(isAlive)).toEqual([]);
    expect(readdirSync(folder)).toEqual(before);
    await expect(ask(port, 'GET', '/')).rejects.toThrow('ECONNREFUSED');
  }, 30_000);
  it('a port that is taken, or no folder, is one sentence', async () => {
    const missing = await lagreel(['desk', 'nowhere-at-all']);
    expect([missing.code, missing.said]).toEqual([
      2,
      ['lagreel: there is no folder nowhere-at-all: give a folder with clips'],
    ]);
  });
});
