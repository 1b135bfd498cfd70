/**
 * One open clip: its recipe with undo, saved as one goes along, and its record, measured again when a decision or a
 * setting changes. No number is made here; the session only decides when to ask for one.
 */
import type { Recipe } from '../../../record/recipe.js';
import type { ClipRecord } from '../../../record/record.js';
import type { Region } from '../../../region/region.js';
import type { ClipAnswer, FindResult, JobAnswer, MeasureResult, TracesAnswer } from '../../protocol.js';
import { beginHistory, changed, type History, redone, undone } from '../logic/history.js';
import { sameRegions } from '../logic/regionEdits.js';
import { type DeskApi, RefusedError, sentenceOf } from './api.js';

/** What of the server a session needs; tests give their own. */
export type SessionApi = Pick<
  DeskApi,
  'clip' | 'traces' | 'saveRecipe' | 'measure' | 'find' | 'job' | 'cancel'
>;

/** A job that is under way. */
export interface RunningJob {
  readonly id: string;
  readonly kind: 'measure' | 'find';
  readonly stage: string;
  readonly fraction: number | null;
}

/** All that the views draw. A new object for every change. */
export interface SessionState {
  readonly clip: ClipAnswer;
  readonly history: History<Recipe>;
  readonly record: ClipRecord | null;
  /** True while the record answers another recipe than the one on the desk. */
  readonly outdated: boolean;
  readonly traces: TracesAnswer | null;
  readonly saving: 'saved' | 'unsaved' | 'saving' | 'conflict' | 'failed';
  /** False while the record on disk is older than the one shown here. */
  readonly written: boolean;
  readonly job: RunningJob | null;
  /** One sentence about what went wrong last; null once something works again. */
  readonly fault: string | null;
  /** One sentence about what was done last, read aloud by screen readers. */
  readonly said: string;
}

/** How long to wait, ms: after an edit before saving, and between two looks at a job. Tests wait for nothing. */
export interface SessionPace {
  readonly saveAfterMs: number;
  /** After the numbers have followed a decision, before record and report are written. */
  readonly writeAfterMs: number;
  readonly lookEveryMs: number;
}

const USUAL_PACE: SessionPace = { saveAfterMs: 250, writeAfterMs: 2500, lookEveryMs: 60 };

const pause = (ms: number): Promise<void> => new Promise((go) => setTimeout(go, ms));

/** See the head of this file. `listen` is called after every change. */
export class ClipSession {
  state: SessionState;
  private readonly api: SessionApi;
  private readonly listen: () => void;
  private readonly pace: SessionPace;
  private tag: string | null;
  private lastSaved: Recipe;
  private timer: ReturnType<typeof setTimeout> | undefined;
  private writeTimer: ReturnType<typeof setTimeout> | undefined;
  private saving: Promise<boolean> | null = null;
  private wants: 'nothing' | 'numbers' | 'files' = 'nothing';
  private measuring = false;
  private cancelAtOnce = false;
  private closed = false;

  constructor(api: SessionApi, clip: ClipAnswer, listen: () => void, pace: SessionPace = USUAL_PACE) {
    this.api = api;
    this.listen = listen;
    this.pace = pace;
    this.tag = clip.recipeTag;
    const recipe = clip.recipe ?? clip.emptyRecipe;
    this.lastSaved = recipe;
    this.state = {
      clip,
      history: beginHistory(recipe),
      record: clip.record,
      outdated: clip.outdated,
      traces: null,
      saving: 'saved',
      written: true,
      job: null,
      fault: clip.faults.length > 0 ? clip.faults.join(' ') : null,
      said: '',
    };
  }

  get recipe(): Recipe {
    return this.state.history.present;
  }

  /** Fetches the traces, where there are samples, and brings numbers up to date that are older than the recipe. */
  async begin(): Promise<void> {
    await this.loadTraces();
    const { record, outdated, traces } = this.state;
    if (record && outdated && traces && sameRegions(record.recipe.regions, this.recipe.regions)) {
      await this.measure(false);
    }
  }

  /** Fetches the traces, where there are samples already. */
  async loadTraces(): Promise<void> {
    try {
      this.set({ traces: await this.api.traces(this.state.clip.id) });
    } catch (error) {
      // 404: nothing was sampled yet, which is no fault.
      if (!(error instanceof RefusedError && error.status === 404)) this.set({ fault: sentenceOf(error) });
    }
  }

  /** Makes an edit. See `changed` for `mark`; `said` is read aloud. */
  edit(recipe: Recipe, said: string, mark: string | null = null): void {
    this.adopt(changed(this.state.history, recipe, mark), said);
  }

  undo(): void {
    if (this.state.history.past.length > 0) this.adopt(undone(this.state.history), 'Undone.');
  }

  redo(): void {
    if (this.state.history.future.length > 0) this.adopt(redone(this.state.history), 'Done again.');
  }

  /** Saves what is not saved yet, at once. @returns false where the file could not be written. */
  async save(): Promise<boolean> {
    clearTimeout(this.timer);
    if (this.state.saving === 'conflict') return false;
    // One writer at a time: the tag of the next save is the answer of this one.
    while (this.saving) await this.saving;
    if (this.recipe === this.lastSaved) {
      // Undone and done again before it was ever written.
      if (this.state.saving !== 'saved') this.set({ saving: 'saved' });
      return true;
    }
    this.saving = this.saveOnce();
    const done = await this.saving;
    this.saving = null;
    return done;
  }

  /** After a conflict: forget the edits and take the file as it is. */
  async takeTheirs(): Promise<void> {
    try {
      await this.reload('The recipe was read again; what stood here can be undone to.');
    } catch (error) {
      this.set({ fault: sentenceOf(error) });
    }
  }

  /** After a conflict: overwrite the file with what stands here. */
  async keepMine(): Promise<void> {
    try {
      this.tag = (await this.api.clip(this.state.clip.id)).recipeTag;
    } catch (error) {
      this.set({ fault: sentenceOf(error) });
      return;
    }
    this.set({ saving: 'unsaved', fault: null });
    await this.save();
  }

  /**
   * Saves the recipe and measures by it.
   * @param write true writes record, table and report too, as `lagreel measure` does; false only brings the numbers
   *   here at once, and the files follow after a pause.
   */
  async measure(write = true): Promise<void> {
    clearTimeout(this.writeTimer);
    if (this.wants !== 'files') this.wants = write ? 'files' : 'numbers';
    if (this.measuring || this.state.job !== null) return;
    this.measuring = true;
    try {
      while (this.wants !== 'nothing' && !this.closed) {
        const files = this.wants === 'files';
        this.wants = 'nothing';
        if (!(await this.measureOnce(files))) break;
      }
    } catch (error) {
      this.set({ fault: sentenceOf(error) });
    } finally {
      this.measuring = false;
    }
  }

  private async measureOnce(write: boolean): Promise<boolean> {
    if (!(await this.save())) return false;
    const asked = this.recipe;
    const result = (await this.run('measure', write)) as MeasureResult | null;
    if (result === null) return false;
    this.set({
      record: result.record,
      traces: result.traces,
      outdated: this.recipe !== asked,
      written: write,
      fault: null,
      said: `Measured: ${result.record.presses.length} presses.`,
    });
    if (write && result.recipeTag !== this.tag) await this.reload('Measured; the recipe was written.');
    if (!write) this.writeTimer = setTimeout(() => void this.measure(), this.pace.writeAfterMs);
    return true;
  }

  /** Looks for regions that the recipe does not name, and takes them into it. */
  async find(): Promise<void> {
    if (this.state.job !== null) return;
    const found = (await this.run('find')) as FindResult | null;
    if (found === null) return;
    const regions: Region[] = [...this.recipe.regions];
    for (const region of found.regions) {
      const taken = regions.some(
        (r) => r.name === region.name || (r.role === 'led' && region.role === 'led'),
      );
      if (!taken) regions.push(region);
    }
    const notes = found.notes.join(' ');
    const added = regions.length - this.recipe.regions.length;
    const said = added === 0 ? 'No further region was found.' : `${added} regions were found. Look at them.`;
    if (added > 0) this.edit({ ...this.recipe, regions }, `${said} ${notes}`);
    else this.set({ said: `${said} ${notes}` });
  }

  cancel(): void {
    const { job } = this.state;
    this.wants = 'nothing';
    // A job without a name is only being asked for: it is cancelled as soon as it has one.
    if (job?.id === '') this.cancelAtOnce = true;
    else if (job) void this.api.cancel(job.id).catch(() => undefined);
  }

  /** Saves, has the files written where they are behind, and falls silent. */
  close(): void {
    this.closed = true;
    clearTimeout(this.writeTimer);
    const behind = !this.state.written;
    void this.save().then((saved) => {
      if (saved && behind) void this.api.measure(this.state.clip.id, { save: true }).catch(() => undefined);
    });
  }

  private adopt(history: History<Recipe>, said: string): void {
    const { record } = this.state;
    this.set({
      history,
      said,
      saving: this.state.saving === 'conflict' ? 'conflict' : 'unsaved',
      outdated: true,
    });
    clearTimeout(this.timer);
    clearTimeout(this.writeTimer);
    // With the same regions the samples are there already, so that all numbers can follow at once.
    const follows = record !== null && sameRegions(record.recipe.regions, history.present.regions);
    this.timer = setTimeout(() => void (follows ? this.measure(false) : this.save()), this.pace.saveAfterMs);
  }

  private async saveOnce(): Promise<boolean> {
    const recipe = this.recipe;
    this.set({ saving: 'saving' });
    try {
      const { recipeTag } = await this.api.saveRecipe(this.state.clip.id, { recipe, ifTag: this.tag });
      this.tag = recipeTag;
      this.lastSaved = recipe;
      this.set({ saving: this.recipe === recipe ? 'saved' : 'unsaved', fault: null });
      return true;
    } catch (error) {
      const conflict = error instanceof RefusedError && error.status === 409;
      this.set({ saving: conflict ? 'conflict' : 'failed', fault: sentenceOf(error) });
      return false;
    }
  }

  private async reload(said: string): Promise<void> {
    const clip = await this.api.clip(this.state.clip.id);
    const recipe = clip.recipe ?? clip.emptyRecipe;
    this.tag = clip.recipeTag;
    this.lastSaved = recipe;
    const same = JSON.stringify(recipe) === JSON.stringify(this.recipe);
    const history = same ? { ...this.state.history, present: recipe } : changed(this.state.history, recipe);
    this.set({
      clip,
      history,
      record: clip.record,
      outdated: clip.outdated,
      saving: 'saved',
      fault: null,
      said,
    });
  }

  private async run(kind: 'measure' | 'find', save = false): Promise<MeasureResult | FindResult | null> {
    const { id } = this.state.clip;
    const starting: RunningJob = { id: '', kind, stage: '', fraction: null };
    this.cancelAtOnce = false;
    this.set({ job: starting, fault: null });
    try {
      const { job } =
        kind === 'measure'
          ? await this.api.measure(id, { save })
          : await this.api.find(id, { recipe: this.recipe });
      // From here on `cancel` can name it; what was asked before is done now.
      this.set({ job: { ...starting, id: job } });
      if (this.cancelAtOnce) await this.api.cancel(job);
      let answer: JobAnswer;
      for (;;) {
        answer = await this.api.job(job);
        if (answer.state !== 'running') break;
        this.set({ job: { id: job, kind, stage: answer.stage, fraction: answer.fraction } });
        await pause(this.pace.lookEveryMs);
      }
      const said = answer.state === 'cancelled' ? 'Cancelled.' : this.state.said;
      this.set({ job: null, said, fault: answer.state === 'failed' ? (answer.error ?? 'It failed.') : null });
      return answer.result ?? null;
    } catch (error) {
      this.set({ job: null, fault: sentenceOf(error) });
      return null;
    }
  }

  private set(part: Partial<SessionState>): void {
    this.state = { ...this.state, ...part };
    if (!this.closed) this.listen();
  }
}
