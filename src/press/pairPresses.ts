/** What belongs together: each press takes the first matching change after it, each change serves one press. */
import { type Onset, type OnsetSet, UNSEEN } from '../onset/onset.js';
import { flagDoubts } from './doubts.js';
import { hiddenAnswers } from './hiddenAnswers.js';

/** A person's decision on a press. Of several on one press the last one holds. */
export interface PressDecision {
  /** LED onset, s on the capture clock; matches the nearest press within 50 ms. */
  readonly pressAtS: number;
  /** `restore` takes an earlier exclusion back. */
  readonly decision: 'exclude' | 'restore';
  readonly reason: string;
}

/** How presses and responses are matched. */
export interface PairingOptions {
  /** Which LED edge is the press. */
  readonly edgeSign: 1 | -1;
  /** A response counts from this long to this long after the press, s. */
  readonly windowS: readonly [number, number];
  /** End of the clip on the capture clock, s. */
  readonly clipEndS: number;
  readonly decisions: readonly PressDecision[];
}

/** What one region did after one press. */
export interface Response {
  readonly region: string;
  readonly status: 'measured' | 'no-response' | 'ambiguous';
  readonly onset: Onset | null;
  readonly flags: readonly string[];
}

/** One press with its responses. */
export interface Press {
  /** From 1, in time order. */
  readonly index: number;
  readonly led: Onset;
  readonly status: 'measured' | 'no-response' | 'ambiguous' | 'excluded';
  readonly reason?: string;
  readonly flags: readonly string[];
  readonly responses: readonly Response[];
}

/** All presses of a clip, and the changes that no press explains. */
export interface Pairing {
  readonly presses: readonly Press[];
  readonly unprompted: readonly { readonly region: string; readonly onset: Onset }[];
  /** Decisions that match no press, which is worth a warning. */
  readonly unmatchedDecisions: readonly PressDecision[];
}

/** Flag of an LED edge that is not like the others; set by the onset search. */
const ODD_EDGE = 'odd-led-edge';
const DECISION_REACH_S = 0.05;

/** Pairs the LED's presses with each screen region's changes. */
export function pairPresses(led: OnsetSet, screens: readonly OnsetSet[], options: PairingOptions): Pairing {
  const ledOnsets = led.onsets.filter((o) => o.sign === options.edgeSign);
  const pressS = ledOnsets.map((o) => o.levelS);
  const matched = screens.map((screen) => {
    const found = matchRegion(ledOnsets, screen, options);
    return { ...found, responses: flagDoubts(found.responses, pressS) };
  });
  const decided = new Map<number, PressDecision>();
  const unmatchedDecisions: PressDecision[] = [];
  for (const decision of options.decisions) {
    const index = nearest(ledOnsets, decision.pressAtS);
    if (index === null) unmatchedDecisions.push(decision);
    else decided.set(index, decision);
  }
  const presses = ledOnsets.map((onset, i): Press => {
    const responses = matched.map((m) => m.responses[i]!);
    const decision = decided.get(i);
    const cutOff = onset.levelS + options.windowS[1] > options.clipEndS;
    const common = { index: i + 1, led: onset, flags: onset.flags, responses };
    if (decision?.decision === 'exclude') return { ...common, status: 'excluded', reason: decision.reason };
    if (onset.flags.includes(ODD_EDGE)) {
      return {
        ...common,
        status: 'ambiguous',
        reason:
          "the LED's light changed in another way than at most presses: something passed over it, or the picture moved",
      };
    }
    const unclear = responses.filter((r) => r.status === 'ambiguous');
    if (unclear.some((r) => !r.flags.includes(UNSEEN))) {
      return {
        ...common,
        status: 'ambiguous',
        reason:
          'another press came before this response, so that the response cannot be given to one of them',
      };
    }
    if (responses.some((r) => r.status === 'measured')) return { ...common, status: 'measured' };
    if (unclear.length > 0) {
      return {
        ...common,
        status: 'ambiguous',
        reason:
          'the flashes of the screen that would show when it answered fell between the exposures, so that the time is not known to a camera frame',
      };
    }
    if (cutOff) {
      return { ...common, status: 'excluded', reason: 'the clip ends before a response could be seen' };
    }
    return { ...common, status: 'no-response' };
  });
  const unprompted = matched.flatMap((m, s) =>
    m.unused.map((onset) => ({ region: screens[s]!.region.name, onset })),
  );
  return { presses, unprompted, unmatchedDecisions };
}

function nearest(onsets: readonly Onset[], atS: number): number | null {
  let best: number | null = null;
  for (let i = 0; i < onsets.length; i++) {
    const distance = Math.abs(onsets[i]!.levelS - atS);
    if (distance > DECISION_REACH_S) continue;
    if (best === null || distance < Math.abs(onsets[best]!.levelS - atS)) best = i;
  }
  return best;
}

function matchRegion(
  presses: readonly Onset[],
  screen: OnsetSet,
  options: PairingOptions,
): { responses: Response[]; unused: Onset[] } {
  const region = screen.region.name;
  const candidates = responseOnsets(presses, screen.onsets, options.windowS);
  const usual = usualLatency(presses, candidates, options.windowS);
  const used = new Set<Onset>();
  const responses: Response[] = presses.map(() => ({
    region,
    status: 'no-response',
    onset: null,
    flags: [],
  }));
  const give = (press: number, onset: Onset, ...flags: string[]) => {
    used.add(onset);
    const seen = !onset.flags.includes(UNSEEN);
    responses[press] = {
      region,
      status: seen ? 'measured' : 'ambiguous',
      onset: seen ? onset : null,
      flags: [...onset.flags, ...flags],
    };
  };
  let next = 0;
  for (let i = 0; i < presses.length; i++) {
    const pressS = presses[i]!.levelS;
    while (next < candidates.length && candidates[next]!.levelS <= pressS + options.windowS[0]) next++;
    const onset = candidates[next];
    if (!onset || onset.levelS > pressS + options.windowS[1]) continue;
    const follower = presses[i + 1];
    if (!follower || follower.levelS >= onset.levelS - Math.max(0, options.windowS[0])) {
      give(i, onset);
      next++;
      continue;
    }
    // Two presses before one change. A second change, in time for the second press, tells them apart; so does the
    // latency of all the presses about which there is no doubt, where only one of the two fits it.
    const second = candidates[next + 1];
    const third = presses[i + 2];
    const fits = [pressS, follower.levelS].map((p) => usual !== null && isUsual(onset.levelS - p, usual));
    if (
      second !== undefined &&
      second.levelS <= follower.levelS + options.windowS[1] &&
      (third === undefined || second.levelS <= third.levelS) &&
      !(fits[1] && !fits[0])
    ) {
      give(i, onset, 'next-press-before-response');
      next++;
    } else if (fits[1] && !fits[0]) {
      // The first press stays without response; the change is left for the second one.
      responses[i] = { region, status: 'no-response', onset: null, flags: ['told-by-usual-latency'] };
    } else if (fits[0] && !fits[1]) {
      give(i, onset, 'told-by-usual-latency');
      next++;
    } else {
      responses[i] = { region, status: 'ambiguous', onset: null, flags: [] };
      responses[i + 1] = { region, status: 'ambiguous', onset: null, flags: [] };
      used.add(onset);
      next++;
      i++;
    }
  }
  // No change was found, but none could have been: the light was away.
  const isUnseen = (press: number) => {
    const fromS = presses[press]!.levelS + Math.max(0, options.windowS[0]);
    const toS = Math.min(
      presses[press]!.levelS + options.windowS[1],
      presses[press + 1]?.levelS ?? options.clipEndS,
    );
    return screen.unseenS?.some(([from, to]) => from < toS && to > fromS) ?? false;
  };
  const isHidden = hiddenAnswers(
    responses.map((r) => r.onset),
    presses,
    screen,
  );
  responses.forEach((r, i) => {
    if (isHidden[i] || (r.status === 'no-response' && isUnseen(i))) {
      responses[i] = { ...r, status: 'ambiguous', onset: null, flags: [...r.flags, UNSEEN] };
    }
  });
  return { responses, unused: candidates.filter((o) => !used.has(o)) };
}

/** More kinds of change than a menu or a pair of toggles has are noise. */
const MENU_KINDS = 12;
const LEAST_USUAL = 5;
/** A wait of one refresh of the slowest usual display, beyond what was seen, s. */
const USUAL_MARGIN_S = 0.02;

/** Smallest and largest latency of the presses that are alone with their change; null where they are few. */
function usualLatency(
  presses: readonly Onset[],
  candidates: readonly Onset[],
  windowS: readonly [number, number],
): readonly [number, number] | null {
  const alone = presses.flatMap((press, i) => {
    const until = Math.min(press.levelS + windowS[1], presses[i + 1]?.levelS ?? Number.POSITIVE_INFINITY);
    const inside = candidates.filter((c) => c.levelS > press.levelS + windowS[0] && c.levelS <= until);
    return inside.length === 1 ? [inside[0]!.levelS - press.levelS] : [];
  });
  if (alone.length < LEAST_USUAL) return null;
  alone.sort((a, b) => a - b);
  // The odd press without answer takes the next one's change and must not stretch the range.
  const cut = Math.floor(alone.length * 0.1);
  return [alone[cut]!, alone[alone.length - 1 - cut]!];
}

function isUsual(latencyS: number, [low, high]: readonly [number, number]): boolean {
  const margin = USUAL_MARGIN_S + (high - low);
  return latencyS >= low - margin && latencyS <= high + margin;
}

/**
 * The onsets that are of the kind that answers a press. A flash also ends, a menu also idles: those changes are of
 * another kind or sign, and mostly do not come first after a press.
 */
function responseOnsets(
  presses: readonly Onset[],
  onsets: readonly Onset[],
  windowS: readonly [number, number],
): Onset[] {
  const key = (o: Onset) => `${o.kind}/${o.sign}`;
  const total = new Map<string, number>();
  const first = new Map<string, number>();
  for (const onset of onsets) total.set(key(onset), (total.get(key(onset)) ?? 0) + 1);
  let answered = 0;
  presses.forEach((press, i) => {
    const until = Math.min(press.levelS + windowS[1], presses[i + 1]?.levelS ?? Number.POSITIVE_INFINITY);
    const onset = onsets.find((o) => o.levelS > press.levelS + windowS[0] && o.levelS <= until);
    if (!onset) return;
    answered++;
    first.set(key(onset), (first.get(key(onset)) ?? 0) + 1);
  });
  // A kind that answers in both directions is a toggle only if it changes once a press; where it changes about twice,
  // the rarer first direction is the way back, which came first because its own change was overlooked.
  const least = Math.max(1, 0.15 * answered);
  const kinds = new Set<string>();
  let covered = 0;
  for (const [k, n] of first) {
    // One of a few kinds that occur as answers only (a menu's last item) may be rare.
    const answersOnly = n === total.get(k)! && total.size <= MENU_KINDS;
    if ((n >= least || answersOnly) && n / total.get(k)! >= 0.5) {
      kinds.add(k);
      covered += n;
    }
  }
  dropReturns(kinds, first, total);
  if (covered >= 0.6 * answered) return onsets.filter((o) => kinds.has(key(o)));
  // Every response looks different (a sprite that jumps about): take whatever is about as strong as the typical one.
  const strengths = onsets.map((o) => o.contrast).sort((a, b) => a - b);
  const typical = strengths[Math.floor(strengths.length * 0.75)] ?? 0;
  return onsets.filter((o) => o.contrast >= 0.3 * typical);
}

function dropReturns(
  kinds: Set<string>,
  first: ReadonlyMap<string, number>,
  total: ReadonlyMap<string, number>,
): void {
  for (const forward of [...kinds]) {
    if (!forward.endsWith('/1')) continue;
    const back = forward.replace(/\/1$/, '/-1');
    if (!kinds.has(back)) continue;
    const changes = (total.get(forward) ?? 0) + (total.get(back) ?? 0);
    const firsts = (first.get(forward) ?? 0) + (first.get(back) ?? 0);
    if (changes <= 1.4 * firsts) continue;
    kinds.delete((first.get(forward) ?? 0) >= (first.get(back) ?? 0) ? back : forward);
  }
}
