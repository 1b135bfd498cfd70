/** What the server answers instead of a result: a status and one sentence. */
import { AnalysisError, UsageError } from '../../errors.js';
import { NotComparable } from '../../node.js';
import type { DeskFault } from '../protocol.js';

/** Statuses that the desk answers with. */
export type RefusalStatus = 400 | 403 | 404 | 405 | 409 | 411 | 413 | 415 | 422 | 429 | 500 | 503;

/** A request that is refused. */
export class Refusal extends Error {
  override readonly name = 'Refusal';
  readonly status: RefusalStatus;
  /** More of the answer than its sentence. */
  readonly facts: Omit<DeskFault, 'error'>;

  constructor(status: RefusalStatus, sentence: string, facts: Omit<DeskFault, 'error'> = {}) {
    super(sentence);
    this.status = status;
    this.facts = facts;
  }
}

/**
 * The refusal for anything that was thrown.
 * @param folder absolute path of the folder; it is taken out of sentences, since the page knows the folder by its name.
 */
export function refusalOf(error: unknown, folder: string): Refusal {
  if (error instanceof Refusal) return error;
  if (error instanceof NotComparable)
    return new Refusal(422, `${sentence(error.reason)}.`, { allowances: error.allowances });
  const message = error instanceof Error ? error.message : String(error);
  const short = message.replaceAll(`${folder}/`, '').replaceAll(folder, 'the folder');
  if (error instanceof UsageError) return new Refusal(400, short);
  if (error instanceof AnalysisError) return new Refusal(error.code === 'write-failed' ? 500 : 422, short);
  return new Refusal(500, `A fault of lagreel, please report it: ${short}`);
}

/** Begun with a capital letter, as everything that the page shows. */
function sentence(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
