/** The hash that lets a content security policy admit a page's one style sheet. */
import { createHash } from 'node:crypto';

/** A source expression for a content security policy (CSP level 3, 2.3.1): `sha256-...` in base64, without quotes. */
export function cspHash(text: string): string {
  return `sha256-${createHash('sha256').update(text).digest('base64')}`;
}
