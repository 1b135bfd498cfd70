/** Where lagreel itself lies, for the files that it reads at run time: its manual, its page, its worker programs. */
import { existsSync } from 'node:fs';

/** The folder of package.json, as a file address that ends in `/`. The same from `src/` and from any place in `dist/`. */
export const packageFolder: URL = folderAbove(new URL('./', import.meta.url));

function folderAbove(folder: URL): URL {
  if (existsSync(new URL('package.json', folder))) return folder;
  const parent = new URL('../', folder);
  if (parent.href === folder.href) throw new Error('the folder of lagreel holds no package.json');
  return folderAbove(parent);
}
