/** The form of a response pooled over edges, some of which are none. */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { tryForms } from '../../src/onset/responseForm.js';
import { syntheticEdge, windowOf } from './syntheticEdges.js';

const TAU_T = 0.5;

describe('the form of a response', () => {
  it('is settled by the edges that agree, not by a few that no form explains', () => {
    const random = seededRandom(8);
    const setting = { exposure: 0.9, snr: 60, plateauFrames: 12, tauT: TAU_T };
    const edges = Array.from({ length: 8 }, () => syntheticEdge(random, setting).window);
    // A hand that moves: a ramp of many frames, hundreds of times the noise that its plateaus are said to have.
    const ramp = Float64Array.from({ length: 27 }, (_, k) => 0.04 * k);
    const strays = [windowOf(ramp, 13, 1e-6), windowOf(ramp.slice(2), 11, 1e-6)];
    const form = (windows: typeof edges) => tryForms([{ windows, heightPx: 20 }], 0.9, [0]).top;
    expect(form(edges).tauT).toBeGreaterThan(0.6 * TAU_T);
    expect(form(edges).tauT).toBeLessThan(1.5 * TAU_T);
    const disturbed = form([...edges, ...strays]).tauT;
    expect(disturbed).toBeGreaterThan(0.6 * TAU_T);
    expect(disturbed).toBeLessThan(1.5 * TAU_T);
  });
});
