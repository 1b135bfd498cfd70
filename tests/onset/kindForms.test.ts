/** Forms by kind of change, on edges whose response is made by the closed form of the exposure. */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { mainForm, ownForms } from '../../src/onset/kindForms.js';
import { kindWindows, type RegionKinds } from '../../src/onset/kindWindows.js';
import { formAt } from '../../src/onset/responseForm.js';
import { exactShare } from './syntheticEdges.js';

const PERIOD_S = 1 / 480;
const EXPOSURE = 0.9;
const REACH = { plateauFrames: 20, settleFrames: 10 };
const APART = 100;

/** A region whose kinds each change the light of a cell of their own: first light and time constant by kind. */
function region(kinds: readonly { readonly sign: 1 | -1; readonly tauT: number; readonly count: number }[]) {
  const random = seededRandom(17);
  const order = kinds.flatMap(({ count }, kind) => Array.from({ length: count }, () => kind));
  const frames = (order.length + 1) * APART;
  const signals = kinds.map(() => Float64Array.from({ length: frames }, () => random.normal(0, 0.005)));
  const at: { readonly frame: number; readonly kind: number }[] = [];
  order.forEach((kind, i) => {
    const stepT = (i + 1) * APART + random.uniform();
    const { sign, tauT } = kinds[kind]!;
    for (let k = 0; k < frames; k++) {
      // Each change is undone, unseen, halfway to the next one of its kind.
      const undone = k > stepT + APART / 2 ? 0 : 1;
      signals[kind]![k]! += sign * undone * exactShare(k, stepT, EXPOSURE, tauT);
    }
    at.push({ frame: Math.ceil(stepT), kind });
  });
  const openS = Float64Array.from({ length: frames }, (_, k) => k * PERIOD_S);
  const work = {
    trace: {
      frames,
      periodS: PERIOD_S,
      region: { name: 's', role: 'screen', x: 0, y: 0, width: 8, height: 8 },
    },
    kinds: kinds.map(({ sign }, kind) => ({
      direction: new Float64Array(1),
      members: at
        .filter((a) => a.kind === kind)
        .map(({ frame }) => ({ change: { frame, energy: 100, step: new Float64Array(1) }, sign })),
    })),
    bands: signals.map((signal) => {
      const whole = { signal, openS, from: 0, extent: 1 };
      return { whole, parts: [whole], lines: [{ from: 0, extent: 1, weight: 1 }] };
    }),
    main: 0,
  };
  return work as unknown as RegionKinds;
}

const formOf = (work: RegionKinds, sign: 1 | -1) =>
  formAt(mainForm([work], sign, REACH, EXPOSURE, [0], 0), 0.1);

describe('forms by kind', () => {
  it('falls of other kinds settle the form of falls where the main kind has none', () => {
    const work = region([
      { sign: 1, tauT: 0.5, count: 4 },
      { sign: -1, tauT: 2.2, count: 4 },
    ]);
    expect(formOf(work, 1).tauT).toBeGreaterThan(0.35);
    expect(formOf(work, 1).tauT).toBeLessThan(0.65);
    // Before, nothing was asked and an instant response was taken.
    expect(formOf(work, -1).tauT).toBeGreaterThan(1.8);
    expect(formOf(work, -1).tauT).toBeLessThan(2.6);
  });

  it('a kind that answers in another way has its own form, one that answers alike has none', () => {
    const work = region([
      { sign: 1, tauT: 0.5, count: 4 },
      { sign: 1, tauT: 2.2, count: 3 },
      { sign: 1, tauT: 0.5, count: 3 },
    ]);
    const common = { rise: formOf(work, 1), fall: formOf(work, 1) };
    const own = (kind: number) => ownForms(work, kind, kindWindows(work, kind, REACH), common, EXPOSURE).rise;
    expect(own(1)!.top.tauT).toBeGreaterThan(1.7);
    expect(own(1)!.top.tauT).toBeLessThan(2.7);
    expect(own(2)).toBeNull();
  });
});
