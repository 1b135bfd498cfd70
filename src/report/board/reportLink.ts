/** Addresses of files beside a page: always relative, never anything that a browser would run. */

/**
 * A relative address from a relative path with `/` between folders: every part is encoded, so that a name cannot open
 * with a scheme, a host or a query. Null for an absolute path or an empty one.
 */
export function relativeAddress(path: string): string | null {
  const parts = path.replaceAll('\\', '/').split('/');
  if (path === '' || parts[0] === '' || /^[A-Za-z]:$/.test(parts[0] ?? '')) return null;
  const encoded = parts.filter((part) => part !== '.').map((part) => (part === '..' ? '..' : encode(part)));
  return encoded[0] === '..' ? encoded.join('/') : `./${encoded.join('/')}`;
}

function encode(part: string): string {
  // A lone surrogate has no encoding; it becomes the replacement character.
  return encodeURIComponent(part.replace(/\p{Cs}/gu, '\uFFFD')).replace(
    /['()!*]/g,
    (c) => `%${c.charCodeAt(0).toString(16).toUpperCase()}`,
  );
}
