/**
 * Pictures of single frames for somebody who steps through a clip: the wanted one first, those next in the same
 * direction ahead of time, all in a memory that does not grow.
 */
import type { TimedPicture } from '../clip/picturesFrom.js';
import { AnalysisError, expected } from '../errors.js';
import { aheadSteps, planReading, type ReadingPlan, stepOf } from './readingPlan.js';

/** What a reel is made of. */
export interface ReelRequest {
  /** File name, for messages. */
  readonly file: string;
  /** Presentation times of all frames, ticks, ascending. */
  readonly ticks: Float64Array;
  /** Starts reading at a frame's time: all frames from there, or only the named ones. Ended by `return`. */
  readonly read: (fromTick: number, onlyTicks?: readonly number[]) => AsyncGenerator<TimedPicture>;
  /** Makes the bytes that are handed out. */
  readonly encode: (rgb: Uint8Array) => Promise<Uint8Array>;
  /** Most bytes of pictures that are kept. */
  readonly limitBytes: number;
}

/** Steps through one clip at one size. */
export interface FrameReel {
  /**
   * The picture of a frame.
   * @throws UsageError for an index that is none; AnalysisError `decoder-failed` where that frame cannot be decoded.
   */
  picture(index: number): Promise<Uint8Array>;
  /** Ends reading and forgets everything. */
  close(): Promise<void>;
  /** Bytes of pictures that are kept now. */
  keptBytes(): number;
}

/** A reading that nobody wanted more of for this long is ended, ms. */
const IDLE_MS = 8000;
/** Pictures that are being encoded at a time. */
const ENCODING = 3;

interface Waiting {
  readonly resolve: (picture: Uint8Array) => void;
  readonly reject: (cause: unknown) => void;
}

/** One reading that is under way, or waits for more to be wanted. */
interface Run {
  readonly plan: ReadingPlan;
  /** Next frame that may come. */
  at: number;
  /** Read up to here, inclusive. */
  until: number;
  wake: () => void;
  stopped: boolean;
  ended: Promise<void>;
}

/** Makes a reel; nothing is read before the first picture is asked for. */
export function frameReel({ file, ticks, read, encode, limitBytes }: ReelRequest): FrameReel {
  const kept = new Map<number, Uint8Array>();
  const waiting = new Map<number, Waiting[]>();
  const encoding = new Set<number>();
  let keptBytes = 0;
  let run: Run | null = null;
  let last: number | null = null;
  let closed = false;

  const keep = (index: number, picture: Uint8Array) => {
    keptBytes += picture.length - (kept.get(index)?.length ?? 0);
    kept.delete(index);
    kept.set(index, picture);
    for (const [oldest, bytes] of kept) {
      if (keptBytes <= limitBytes || oldest === index) break;
      kept.delete(oldest);
      keptBytes -= bytes.length;
    }
  };
  const settle = (index: number, how: (w: Waiting) => void) => {
    const all = waiting.get(index) ?? [];
    waiting.delete(index);
    for (const one of all) how(one);
  };
  const fail = (wanted: (index: number) => boolean, cause: (index: number) => unknown) => {
    for (const index of [...waiting.keys()]) if (wanted(index)) settle(index, (w) => w.reject(cause(index)));
  };
  const missing = (index: number) =>
    new AnalysisError('decoder-failed', `frame ${index} of ${file} cannot be decoded: step past it`);
  const gone = () => new AnalysisError('decoder-failed', `${file} was closed: open it again`);

  async function take(index: number, rgb: Uint8Array): Promise<void> {
    encoding.add(index);
    try {
      const picture = await encode(rgb);
      if (closed) return;
      keep(index, picture);
      settle(index, (w) => w.resolve(picture));
    } catch (cause) {
      settle(index, (w) => w.reject(cause));
    } finally {
      encoding.delete(index);
    }
  }

  async function roll(mine: Run): Promise<void> {
    if (mine.stopped) return;
    const { plan } = mine;
    const pictures = read(
      ticks[plan.first]!,
      plan.only?.map((index) => ticks[index]!),
    );
    const jobs = new Set<Promise<void>>();
    try {
      while (!mine.stopped) {
        if (mine.at > mine.until && !(await moreWanted(mine))) break;
        const next = await pictures.next();
        if (next.done || mine.stopped) break;
        const index = indexOf(ticks, next.value.tick, mine.at);
        if (index === null) continue;
        // What this reading was to give and has passed will not come.
        const passedFrom = mine.at;
        fail((k) => k >= passedFrom && k < index && plan.gives(k), missing);
        mine.at = index + 1;
        if (kept.has(index)) continue;
        const job = take(index, next.value.rgb);
        jobs.add(job);
        void job.then(() => jobs.delete(job));
        if (jobs.size >= ENCODING) await Promise.race(jobs);
      }
      await Promise.all(jobs);
      if (!mine.stopped) fail((k) => k >= mine.at && k <= mine.until && plan.gives(k), missing);
    } catch (cause) {
      if (!mine.stopped) fail(plan.gives, () => cause);
    } finally {
      mine.stopped = true;
      if (run === mine) run = null;
      await pictures.return(undefined).catch(() => undefined);
    }
  }

  function moreWanted(mine: Run): Promise<boolean> {
    if (mine.plan.only) return Promise.resolve(false);
    return new Promise((resolve) => {
      const idle = setTimeout(() => resolve(false), IDLE_MS);
      mine.wake = () => {
        clearTimeout(idle);
        resolve(!mine.stopped);
      };
    });
  }

  function stop(mine: Run): Promise<void> {
    mine.stopped = true;
    mine.wake();
    return mine.ended;
  }

  function start(plan: ReadingPlan): void {
    const before = run;
    const mine: Run = {
      plan,
      at: plan.first,
      until: plan.until,
      wake: () => undefined,
      stopped: false,
      ended: Promise.resolve(),
    };
    run = mine;
    mine.ended = (before ? stop(before) : Promise.resolve()).then(() => roll(mine)).then(resume);
  }

  /** After a reading has ended: whoever is still waiting (a newer reading took its place) gets one of their own. */
  function resume(): void {
    if (closed || run) return;
    const index = [...waiting.keys()].find((k) => !encoding.has(k));
    if (index !== undefined) start(planReading(index, 1, ticks.length));
  }

  /** True where the reading under way will come to this frame soon. */
  const comes = (index: number): boolean =>
    run !== null && !run.stopped && index >= run.at && run.plan.reaches(index, run.at);

  function prefer(index: number, step: number): void {
    const plan = planReading(index, step, ticks.length);
    // A reading of all frames would come to the next leap, too, but slower than one that leaps.
    if (run && comes(index) && (run.plan.only || !plan.only)) {
      if (!run.plan.only) run.until = Math.max(run.until, plan.until);
      run.wake();
    } else start(plan);
  }

  /** Reads for what comes next, in the direction of the last step. */
  function readAhead(index: number, step: number): void {
    if (run && !run.stopped && !run.plan.only && run.plan.step === step && run.at > index) {
      const { until } = planReading(index, step, ticks.length);
      if (run.at > until) return;
      run.until = Math.max(run.until, until);
      run.wake();
      return;
    }
    if (run && !run.stopped && run.at <= run.until) return;
    // The first frame on the way that is not there; one far off can wait.
    let next = index + step;
    for (let n = 0; n < aheadSteps(step); n++, next += step) {
      if (next < 0 || next >= ticks.length) return;
      if (kept.has(next) || encoding.has(next)) continue;
      start(planReading(next, step, ticks.length));
      return;
    }
  }

  return {
    keptBytes: () => keptBytes,
    picture(index) {
      if (!(Number.isInteger(index) && index >= 0 && index < ticks.length))
        return Promise.reject(expected('frame', `a whole number from 0 to ${ticks.length - 1}`, index));
      if (closed) return Promise.reject(gone());
      const step = stepOf(last, index);
      last = index;
      const picture = kept.get(index);
      if (picture) {
        keep(index, picture);
        readAhead(index, step);
        return Promise.resolve(picture);
      }
      const answer = new Promise<Uint8Array>((resolve, reject) => {
        waiting.set(index, [...(waiting.get(index) ?? []), { resolve, reject }]);
      });
      if (!encoding.has(index)) prefer(index, step);
      return answer;
    },
    async close() {
      closed = true;
      if (run) await stop(run);
      fail(() => true, gone);
      kept.clear();
      keptBytes = 0;
    },
  };
}

/** Index of a time at or after `from`; null where it is the time of no such frame. */
function indexOf(ticks: Float64Array, tick: number, from: number): number | null {
  let low = from;
  let high = ticks.length - 1;
  while (low <= high) {
    const middle = (low + high) >> 1;
    if (ticks[middle]! === tick) return middle;
    if (ticks[middle]! < tick) low = middle + 1;
    else high = middle - 1;
  }
  return null;
}
