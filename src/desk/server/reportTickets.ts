/**
 * Addresses of reports. A report opens in a tab of its own, which cannot send the secret; so the page asks for an
 * address that carries a capability for this one report.
 */
import { randomBytes } from 'node:crypto';

/** Tickets of one desk. */
export interface ReportTickets {
  /** A new address for the report of a clip. */
  issue(clip: string): string;
  /** The clip of a ticket; null where it is none. */
  clipOf(ticket: string): string | null;
}

const KEPT = 64;

/** The report brings its style and pictures inside; it may load nothing, run nothing and be framed by nobody. */
export const REPORT_POLICY =
  "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; sandbox allow-same-origin";

/** Tickets; the oldest go first. */
export function reportTickets(): ReportTickets {
  const clips = new Map<string, string>();
  return {
    issue(clip) {
      const ticket = randomBytes(16).toString('hex');
      clips.set(ticket, clip);
      for (const oldest of clips.keys()) {
        if (clips.size <= KEPT) break;
        clips.delete(oldest);
      }
      return `/report/${ticket}`;
    },
    clipOf: (ticket) => clips.get(ticket) ?? null,
  };
}
