/** The folder of the desk: its clips by ids, and the certainty that no file of theirs lies elsewhere. */
import { createHash } from 'node:crypto';
import { lstat, realpath, stat } from 'node:fs/promises';
import { basename, join, sep } from 'node:path';
import { clipsIfAny } from '../../node.js';
import { type ClipFiles, clipFiles } from '../../record/files.js';
import { Refusal } from './refusal.js';

/** A clip of the folder. */
export interface DeskFile {
  readonly id: string;
  readonly name: string;
  readonly path: string;
  readonly bytes: number;
  /** Another text where the file became another one. */
  readonly state: string;
  /** The files beside it. */
  readonly files: ClipFiles;
}

/** The folder. */
export interface DeskFolder {
  /** Absolute, with all links followed. */
  readonly root: string;
  /** Base name. */
  readonly name: string;
  list(): Promise<{
    readonly clips: readonly DeskFile[];
    readonly left: readonly { readonly name: string; readonly reason: string }[];
  }>;
  /** The clip of an id. Throws a `Refusal` 404 where the listing has none. */
  find(id: string): Promise<DeskFile>;
  /** Throws a `Refusal` 403 where a path (that exists) leads out of the folder. */
  checkInside(paths: readonly string[]): Promise<void>;
}

const ID = /^[0-9a-f]{16}$/;

/** Opens a folder; nothing in it is read yet. */
export async function deskFolder(folder: string): Promise<DeskFolder> {
  const root = await realpath(folder);
  const isInside = (path: string) => path === root || path.startsWith(root.endsWith(sep) ? root : root + sep);

  async function list() {
    const clips: DeskFile[] = [];
    const left: { name: string; reason: string }[] = [];
    const owners = new Map<string, string>();
    for (const path of await clipsIfAny(root)) {
      const name = basename(path);
      const leave = (reason: string) => left.push({ name, reason });
      const real = await realpath(path).catch(() => null);
      if (real === null) leave('It is a link that leads nowhere.');
      else if (!isInside(real)) leave('It is a link that leads out of the folder.');
      else {
        const facts = await stat(real).catch(() => null);
        const files = clipFiles(path);
        const owner = owners.get(files.record);
        if (!facts?.isFile()) leave('It is no regular file.');
        else if (owner !== undefined)
          leave(`It would share its result files with ${owner}: rename one of them.`);
        else {
          owners.set(files.record, name);
          const state = [facts.dev, facts.ino, facts.size, facts.mtimeMs].join(':');
          clips.push({ id: idOf(name), name, path, bytes: facts.size, state, files });
        }
      }
    }
    return { clips, left };
  }

  return {
    root,
    name: basename(root) || root,
    list,
    async find(id) {
      const clip = ID.test(id) ? (await list()).clips.find((c) => c.id === id) : undefined;
      if (clip) return clip;
      throw new Refusal(404, 'There is no such clip in the folder: look at the list again.');
    },
    async checkInside(paths) {
      for (const path of paths) {
        const link = await lstat(path).catch(() => null);
        if (!link?.isSymbolicLink()) continue;
        const real = await realpath(path).catch(() => null);
        if (real === null || !isInside(real))
          throw new Refusal(
            403,
            `${basename(path)} is a link that leads out of the folder: the desk does not follow it.`,
          );
      }
    },
  };
}

function idOf(name: string): string {
  return createHash('sha256').update(name).digest('hex').slice(0, 16);
}

/** All paths beside a clip that the desk reads or writes. */
export function besideClip(files: ClipFiles): string[] {
  return [
    files.recipe,
    files.record,
    files.csv,
    files.report,
    files.regions,
    files.history,
    join(files.history, '..', 'session.csv'),
  ];
}
