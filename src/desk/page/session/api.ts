/** The one place that talks to the desk's server. The secret stays in memory and in this tab's session storage. */
import {
  type ClipAnswer,
  type CompareAnswer,
  type CompareAsked,
  type DeskFault,
  type FindRequest,
  type FolderAnswer,
  type JobAnswer,
  type JobStarted,
  type MeasureRequest,
  type ReportAnswer,
  type SavedRecipe,
  type SaveRecipe,
  SECRET_HEADER,
  type TracesAnswer,
} from '../../protocol.js';

/** An answer of the server that is no success: its sentence, status and, for a conflict, the tag on disk. */
export class RefusedError extends Error {
  override readonly name = 'RefusedError';
  readonly status: number;
  readonly fault: DeskFault;

  constructor(status: number, fault: DeskFault) {
    super(fault.error);
    this.status = status;
    this.fault = fault;
  }
}

/** The sentence of anything that was thrown. */
export function sentenceOf(error: unknown): string {
  if (error instanceof RefusedError) return error.message;
  if (error instanceof TypeError) return 'The desk does not answer; is `lagreel desk` still running?';
  return error instanceof Error ? error.message : String(error);
}

const clipPath = (id: string): string => `/api/clips/${encodeURIComponent(id)}`;

/** Everything the page asks of the server. Every method throws `RefusedError` where the server says no. */
export class DeskApi {
  private readonly secret: string;

  constructor(secret: string) {
    this.secret = secret;
  }

  folder(): Promise<FolderAnswer> {
    return this.json('GET', '/api/clips');
  }
  clip(id: string): Promise<ClipAnswer> {
    return this.json('GET', clipPath(id));
  }
  traces(id: string): Promise<TracesAnswer> {
    return this.json('GET', `${clipPath(id)}/traces`);
  }
  saveRecipe(id: string, body: SaveRecipe): Promise<SavedRecipe> {
    return this.json('PUT', `${clipPath(id)}/recipe`, body);
  }
  measure(id: string, body: MeasureRequest): Promise<JobStarted> {
    return this.json('POST', `${clipPath(id)}/measure`, body);
  }
  find(id: string, body: FindRequest): Promise<JobStarted> {
    return this.json('POST', `${clipPath(id)}/find`, body);
  }
  job(job: string): Promise<JobAnswer> {
    return this.json('GET', `/api/jobs/${encodeURIComponent(job)}`);
  }
  cancel(job: string): Promise<JobAnswer> {
    return this.json('DELETE', `/api/jobs/${encodeURIComponent(job)}`);
  }
  report(id: string): Promise<ReportAnswer> {
    return this.json('POST', `${clipPath(id)}/report`, {});
  }
  compare(body: CompareAsked): Promise<CompareAnswer> {
    return this.json('POST', '/api/compare', body);
  }
  /** @param maxPx longest side of the picture that is wanted, px. */
  frame(id: string, frame: number, maxPx: number, signal?: AbortSignal): Promise<Blob> {
    return this.blob(`${clipPath(id)}/frame/${frame}?max=${maxPx}`, signal);
  }
  thumbnail(id: string): Promise<Blob> {
    return this.blob(`${clipPath(id)}/thumbnail`);
  }
  strip(id: string, press: number, region: string): Promise<Blob> {
    return this.blob(`${clipPath(id)}/strip/${press}/${encodeURIComponent(region)}`);
  }

  private async json<T>(method: string, path: string, body?: unknown): Promise<T> {
    const response = await this.ask(method, path, body);
    return (await response.json()) as T;
  }

  private async blob(path: string, signal?: AbortSignal): Promise<Blob> {
    return (await this.ask('GET', path, undefined, signal)).blob();
  }

  private async ask(method: string, path: string, body?: unknown, signal?: AbortSignal): Promise<Response> {
    const response = await fetch(path, {
      method,
      headers: {
        [SECRET_HEADER]: this.secret,
        ...(body === undefined ? {} : { 'content-type': 'application/json' }),
      },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      ...(signal === undefined ? {} : { signal }),
      cache: 'no-store',
      redirect: 'error',
    });
    if (response.ok) return response;
    const fault = await response.json().catch(() => null);
    const known = typeof fault === 'object' && fault !== null && typeof fault.error === 'string';
    throw new RefusedError(
      response.status,
      known ? (fault as DeskFault) : { error: `The desk refused this (${response.status}).` },
    );
  }
}
