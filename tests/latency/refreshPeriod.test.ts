import { describe, expect, it } from 'vitest';
import { refreshPeriod } from '../../src/latency/refreshPeriod.js';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import type { Onset, OnsetSet } from '../../src/onset/onset.js';
import type { Press } from '../../src/press/pairPresses.js';

const SD_S = 0.0002;

function onset(levelS: number): Onset {
  return {
    frame: Math.round(levelS * 240),
    kind: 0,
    sign: 1,
    contrast: 50,
    firstLightS: levelS,
    levelS,
    halfS: levelS,
    settledS: levelS,
    sdS: SD_S,
    excessKurtosis: 0,
    intervalS: [levelS, levelS],
    before: 0,
    after: 1,
    flags: [],
  };
}

function screen(refreshHz: number | null = null): OnsetSet {
  const shape = { tauT: 0, sweepT: 0 };
  return {
    region: { name: 'top', role: 'screen', x: 0, y: 0, width: 8, height: 8 },
    onsets: [],
    shapes: { rise: shape, fall: shape },
    responseTimeMs: null,
    shapeSdS: 0,
    signals: [],
    light: refreshHz === null ? 'held' : 'pulsed',
    refreshHz,
    warnings: [],
  };
}

/** Presses at random times, answered on the display's own frames. */
function presses(count: number, refreshHz: number, locked = false): Press[] {
  const random = seededRandom(1234);
  const periodS = 1 / refreshHz;
  let atS = 0;
  return Array.from({ length: count }, (_, i) => {
    atS += random.uniform(0.35, 0.8);
    const pressS = locked ? Math.round(atS / periodS) * periodS + 0.003 : atS;
    const answerS = Math.ceil((pressS + 0.05) / periodS) * periodS + random.normal(0, SD_S);
    const answer = { region: 'top', status: 'measured' as const, onset: onset(answerS), flags: [] };
    return { index: i + 1, led: onset(pressS), status: 'measured' as const, flags: [], responses: [answer] };
  });
}

describe('refresh period', () => {
  it('takes what was stated', () => {
    const found = refreshPeriod(50, [screen()], []);
    expect(found).toMatchObject({ periodMs: 20, source: 'stated', measuredMs: null, warnings: [] });
  });

  it('reads it off the pulses of the light', () => {
    expect(refreshPeriod(null, [screen(59.94)], [])).toMatchObject({
      periodMs: 1000 / 59.94,
      source: 'measured',
    });
  });

  it.each([50, 60, 59.94])('reads %d Hz off the lattice of responses', (hz) => {
    const { periodMs, source, warnings } = refreshPeriod(null, [screen()], presses(30, hz));
    expect(source).toBe('measured');
    // Onsets known to 0.2 ms over more than ten seconds pin the period far better than this.
    expect(Math.abs(periodMs! * hz - 1000) / 1000).toBeLessThan(1e-4);
    expect(warnings).toEqual([]);
  });

  it('keeps the stated one, but says when the picture changes at another rate', () => {
    const found = refreshPeriod(60, [screen(50)], presses(30, 50));
    expect(found.periodMs).toBeCloseTo(1000 / 60, 9);
    expect(found.source).toBe('stated');
    expect(found.warnings.join(' ')).toMatch(/60 Hz.*50\.00 Hz/);
    expect(refreshPeriod(60, [screen()], presses(30, 60)).warnings).toEqual([]);
  });

  it('warns of presses that are locked to the refresh', () => {
    const found = refreshPeriod(60, [screen()], presses(30, 60, true));
    expect(found.warnings).toHaveLength(1);
  });

  it('is none where nothing shows it, and asks for it', () => {
    const found = refreshPeriod(null, [screen()], presses(3, 60));
    expect(found).toMatchObject({ periodMs: null, source: 'none', measuredMs: null });
    expect(found.warnings.join(' ')).toMatch(/--refresh/);
  });
});
