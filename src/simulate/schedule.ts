/** What happens in a scene and when: presses, the changes of the picture, and which press each one answers. */
import { seededStream } from './random.js';
import type { Scene } from './scene.js';

/** What became of one press. */
export interface ScheduledPress {
  /** 0-based, in order of time. */
  readonly index: number;
  /** Start of the LED's edge, s on the capture clock. */
  readonly pressS: number;
  /** Start of the LED's way back, s. */
  readonly releaseS: number;
  /**
   * `answered`: a change follows. `ignored`: the chain did nothing. `swallowed`: the picture already showed, or was
   * about to show, what the press asks for, so that nothing more could change.
   */
  readonly status: 'answered' | 'ignored' | 'swallowed';
  /** Frame start (first line) of the answering change, s; null where there is none. */
  readonly changeS: number | null;
  /** Wait for the next poll, ms, uniform on [0, one refresh); null where there is no answer. */
  readonly waitMs: number | null;
  /** What the chain added beyond wait and fixed delay, ms; null where there is no answer. */
  readonly extraMs: number | null;
}

/** One change of the picture. */
export interface ScheduledChange {
  /** When its first line is (or would be) drawn, s on the capture clock. */
  readonly atS: number;
  /** Picture before and after. */
  readonly from: number;
  readonly to: number;
  readonly cause: 'press' | 'return' | 'unprompted';
  /** Index of the press that it answers; null for the other causes. */
  readonly press: number | null;
}

/** Everything that happens in a scene. */
export interface Schedule {
  readonly presses: readonly ScheduledPress[];
  /** In order of time. */
  readonly changes: readonly ScheduledChange[];
  /** Changes of the part that moves all the time (or of the scrolled picture), in order of time. */
  readonly idleChanges: readonly ScheduledChange[];
}

const PRESS_STREAM = 11;
const JITTER_STREAM = 12;
/** Room that an unprompted change needs for itself, s. */
const UNPROMPTED_GAP_S = 0.45;

function extraDelayS(scene: Scene, refreshS: number, uniform: number, normal: number): number {
  const law = scene.latency.jitter;
  switch (law.kind) {
    case 'none':
      return 0;
    case 'gaussian':
      return (normal * law.sdMs) / 1000;
    case 'uniform':
      return scene.latency.refreshLocked
        ? Math.floor(uniform * (law.displayFrames + 1)) * refreshS
        : uniform * law.displayFrames * refreshS;
    case 'discrete':
      return uniform < law.probability ? law.displayFrames * refreshS : 0;
  }
}

interface Answer {
  readonly changeS: number;
  readonly waitMs: number;
  readonly extraMs: number;
}

/**
 * The chain's answer to a press. Polls come once a refresh, so placed that poll + fixed delay is a display frame's
 * start; the wait is the time from press to poll. A Gaussian jitter of a locked chain acts before the latch, so the
 * answer still starts with a display frame (never before the press's own).
 */
function answerTo(scene: Scene, pressS: number, uniform: number, normal: number): Answer {
  const refreshS = 1 / scene.screen.refreshHz;
  const phaseS = scene.screen.phase * refreshS;
  const fixedS = scene.latency.fixedDelayMs / 1000;
  const latch = (readyS: number): number => phaseS + Math.ceil((readyS - phaseS) / refreshS) * refreshS;
  const punctualS = latch(pressS + fixedS);
  const extraS = extraDelayS(scene, refreshS, uniform, normal);
  const lateS =
    scene.latency.jitter.kind === 'gaussian' && scene.latency.refreshLocked
      ? latch(pressS + fixedS + extraS)
      : punctualS + extraS;
  const changeS = Math.max(lateS, scene.latency.refreshLocked ? latch(pressS) : pressS);
  return {
    changeS,
    waitMs: (punctualS - fixedS - pressS) * 1000,
    extraMs: (changeS - punctualS) * 1000,
  };
}

interface Moment {
  readonly atS: number;
  readonly press: number | null;
}

/** Turns the moments at which the chain acts into changes of the picture. */
function changesOf(scene: Scene, moments: readonly Moment[]): ScheduledChange[] {
  const refreshS = 1 / scene.screen.refreshHz;
  const changes: ScheduledChange[] = [];
  const cause = (m: Moment): 'press' | 'unprompted' => (m.press === null ? 'unprompted' : 'press');
  if (scene.content.kind === 'toggle') {
    const states = scene.content.menuItems ?? 2;
    let state = 0;
    for (const m of moments) {
      const last = changes.at(-1);
      if (last && m.atS - last.atS < 0.5 * refreshS) continue;
      const to = (state + 1) % states;
      changes.push({ atS: m.atS, from: state, to, cause: cause(m), press: m.press });
      state = to;
    }
    return changes;
  }
  let backS = Number.NEGATIVE_INFINITY;
  for (const m of moments) {
    // While the answer to an earlier press is on the screen there is nothing to see of a later one.
    if (m.atS < backS + 0.5 * refreshS) continue;
    backS = m.atS + scene.content.holdDisplayFrames * refreshS;
    changes.push({ atS: m.atS, from: 0, to: 1, cause: cause(m), press: m.press });
    changes.push({ atS: backS, from: 1, to: 0, cause: 'return', press: null });
  }
  return changes;
}

function idleChangesOf(scene: Scene): ScheduledChange[] {
  const { scroll } = scene.content;
  const idle = scroll ?? scene.content.idle;
  if (!idle) return [];
  // A scrolled picture turns round at its ends, so that every change is one step.
  const turn = 2 * idle.steps - 2;
  const stepAt = (n: number): number => {
    if (!scroll) return n % idle.steps;
    return n % turn < idle.steps ? n % turn : turn - (n % turn);
  };
  const refreshS = 1 / scene.screen.refreshHz;
  const endS = scene.camera.frames / scene.camera.captureRateHz + 2 * refreshS;
  const changes: ScheduledChange[] = [];
  for (let n = 0; ; n++) {
    const atS = (scene.screen.phase + n * idle.displayFramesPerStep) * refreshS;
    if (atS > endS) return changes;
    changes.push({ atS, from: stepAt(n), to: stepAt(n + 1), cause: 'unprompted', press: null });
  }
}

/** The schedule of a scene; the same scene gives the same schedule. Cost: linear in the number of presses. */
export function sceneSchedule(scene: Scene): Schedule {
  const { presses: plan, led } = scene;
  const draw = seededStream(scene.seed, PRESS_STREAM);
  const jitter = seededStream(scene.seed, JITTER_STREAM);
  const times: { pressS: number; holdS: number; ignored: boolean }[] = [];
  const unpromptedS: number[] = [];
  let atS = plan.leadInS + draw.between(0, plan.intervalMaxS - plan.intervalMinS);
  for (let i = 0; i < plan.count; i++) {
    const doubled = plan.doubledAt.includes(i);
    const holdS = doubled ? Math.min(led.holdS, 0.45 * plan.doubleGapS) : led.holdS;
    times.push({ pressS: atS, holdS, ignored: plan.ignored.includes(i) });
    if (doubled) times.push({ pressS: atS + plan.doubleGapS, holdS, ignored: false });
    const interval = draw.between(plan.intervalMinS, plan.intervalMaxS);
    let extraS = doubled ? plan.doubleGapS : 0;
    if (plan.unpromptedAfter.includes(i)) {
      const refreshS = 1 / scene.screen.refreshHz;
      const frame = Math.ceil((atS + extraS + interval) / refreshS - scene.screen.phase);
      unpromptedS.push((scene.screen.phase + frame) * refreshS);
      extraS += UNPROMPTED_GAP_S;
    }
    atS += interval + extraS;
  }
  const answers = times.map(({ pressS }) => answerTo(scene, pressS, jitter.next(), jitter.normal()));
  const moments: Moment[] = [
    ...times.flatMap((t, press) => (t.ignored ? [] : [{ atS: answers[press]!.changeS, press }])),
    ...unpromptedS.map((s) => ({ atS: s, press: null })),
  ].sort((a, b) => a.atS - b.atS);
  const changes = changesOf(scene, moments);
  const presses = times.map(({ pressS, holdS, ignored }, index): ScheduledPress => {
    const change = changes.find((c) => c.press === index);
    const answer = change ? answers[index]! : null;
    return {
      index,
      pressS,
      releaseS: pressS + holdS,
      status: ignored ? 'ignored' : change ? 'answered' : 'swallowed',
      changeS: answer?.changeS ?? null,
      waitMs: answer?.waitMs ?? null,
      extraMs: answer?.extraMs ?? null,
    };
  });
  return { presses, changes, idleChanges: idleChangesOf(scene) };
}
