/** Long work that the page starts, looks after and may cancel. */
import { randomBytes } from 'node:crypto';
import type { FindResult, JobAnswer, MeasureResult } from '../protocol.js';
import { Refusal, refusalOf } from './refusal.js';

/** What a job tells while it runs. */
export type TellProgress = (stage: string, done: number, total: number | null) => void;

/** The work of a job. */
export type JobWork = (signal: AbortSignal, tell: TellProgress) => Promise<MeasureResult | FindResult>;

/** All jobs of a desk. */
export interface Jobs {
  /** Throws a `Refusal` 429 where too many run. */
  start(kind: JobAnswer['kind'], clip: string, work: JobWork): string;
  /** Throws a `Refusal` 404. */
  look(job: string): JobAnswer;
  /** Cancels and waits until nothing of the job is left; an ended job stays as it is. */
  cancel(job: string): Promise<JobAnswer>;
  close(): Promise<void>;
}

interface Job {
  answer: JobAnswer;
  readonly stop: AbortController;
  readonly ended: Promise<void>;
}

const RUNNING = 3;
/** Jobs that have ended and can still be asked for. */
const KEPT = 12;

/** Jobs of one desk. */
export function jobList(folder: string): Jobs {
  const jobs = new Map<string, Job>();
  const running = () => [...jobs.values()].filter((j) => j.answer.state === 'running');
  const find = (id: string): Job => {
    const job = jobs.get(id);
    if (job) return job;
    throw new Refusal(404, 'There is no such job any more: start it again.');
  };

  return {
    start(kind, clip, work) {
      if (running().length >= RUNNING)
        throw new Refusal(429, 'The desk is measuring already: wait, or cancel what runs.');
      const id = randomBytes(12).toString('hex');
      const stop = new AbortController();
      const set = (more: Partial<JobAnswer>) => {
        job.answer = { ...job.answer, ...more };
      };
      const job: Job = {
        answer: { job: id, kind, clip, state: 'running', stage: '', fraction: null },
        stop,
        // In a turn of its own, so that `job` is there.
        ended: Promise.resolve()
          .then(() =>
            work(stop.signal, (stage, done, total) =>
              set({ stage, fraction: total === null || total <= 0 ? null : Math.min(1, done / total) }),
            ),
          )
          .then(
            (result) => set({ state: 'done', fraction: 1, result }),
            (cause: unknown) =>
              stop.signal.aborted
                ? set({ state: 'cancelled' })
                : set({ state: 'failed', error: refusalOf(cause, folder).message }),
          ),
      };
      jobs.set(id, job);
      const ended = [...jobs].filter(([, j]) => j.answer.state !== 'running');
      for (const [old] of ended.slice(0, Math.max(0, ended.length - KEPT))) jobs.delete(old);
      return id;
    },
    look: (id) => find(id).answer,
    async cancel(id) {
      const job = find(id);
      job.stop.abort(new Error('cancelled'));
      await job.ended;
      return job.answer;
    },
    async close() {
      for (const job of running()) job.stop.abort(new Error('the desk was closed'));
      await Promise.all(running().map((j) => j.ended));
    },
  };
}
