import { describe, expect, it } from 'vitest';
import { type Kind, untimedKinds } from '../../src/onset/kinds.js';

const kindAt = (frames: readonly number[]): Kind => ({
  direction: Float64Array.of(1),
  members: frames.map((frame, i) => ({
    change: { frame, energy: 100, step: Float64Array.of(1) },
    sign: i % 2 === 0 ? 1 : -1,
  })),
});

/** Presses of a thumb. */
const pressed = kindAt([737, 1294, 1736, 2254, 3060, 3752, 4212, 4865]);
/** Every fifth pulse of a tube of 50 Hz at 960 frames a second, while the picture is bright. */
const ofPhase = kindAt([834, 930, 1026, 1122, 1218, 1794, 1890, 1986, 2082, 2178, 3138, 3234, 3330]);

describe('kinds of change that come by a clock', () => {
  it('are no answers where another kind comes as a person presses', () => {
    expect(untimedKinds([ofPhase, pressed])).toEqual([pressed]);
  });

  it('are kept where nothing else is there: a machine may press', () => {
    expect(untimedKinds([ofPhase])).toEqual([ofPhase]);
  });

  it('are not seen in a few changes', () => {
    const few = kindAt([100, 200, 300, 400]);
    expect(untimedKinds([few, pressed])).toEqual([few, pressed]);
  });
});
