/** Errors from one process to another: their kind, words and code survive. */
import { type AnalysisCode, AnalysisError, UsageError } from '../../errors.js';
import { Refusal, type RefusalStatus } from './refusal.js';

/** An error as plain data. */
export type Carried = { readonly message: string } & (
  | { readonly kind: 'refusal'; readonly status: RefusalStatus }
  | { readonly kind: 'usage' }
  | { readonly kind: 'analysis'; readonly code: AnalysisCode }
  | { readonly kind: 'fault'; readonly stack: string }
);

/** As plain data. */
export function carry(error: unknown): Carried {
  const message = error instanceof Error ? error.message : String(error);
  if (error instanceof Refusal) return { kind: 'refusal', message, status: error.status };
  if (error instanceof UsageError) return { kind: 'usage', message };
  if (error instanceof AnalysisError) return { kind: 'analysis', message, code: error.code };
  return { kind: 'fault', message, stack: error instanceof Error ? (error.stack ?? message) : message };
}

/** The error again. */
export function uncarry(error: Carried): Error {
  const { message } = error;
  if (error.kind === 'refusal') return new Refusal(error.status, message);
  if (error.kind === 'usage') return new UsageError(message);
  if (error.kind === 'analysis') return new AnalysisError(error.code, message);
  return Object.assign(new Error(message), { stack: error.stack });
}
