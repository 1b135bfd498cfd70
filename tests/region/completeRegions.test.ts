import { describe, expect, it } from 'vitest';
import { AnalysisError } from '../../src/errors.js';
import { completeRegions } from '../../src/region/completeRegions.js';
import type { FoundRegions } from '../../src/region/findRegions.js';
import type { Region } from '../../src/region/region.js';

const led: Region = { name: 'led', role: 'led', x: 0, y: 0, width: 8, height: 8 };
const screen: Region = { name: 'screen', role: 'screen', x: 20, y: 0, width: 8, height: 8 };
const sure: FoundRegions = {
  regions: [led, screen],
  confidence: 1,
  unsure: false,
  edge: 'release',
  notes: [],
};

describe('completing regions', () => {
  it('keeps what a person named, and adds what is missing', () => {
    const own: Region = { ...led, name: 'mine', x: 4 };
    expect(completeRegions([own], sure, 'press', 'a.mp4').regions).toEqual([own, screen]);
  });

  it('takes the edge of a light that was found with certainty, and says so', () => {
    const found = completeRegions([], sure, 'press', 'a.mp4');
    expect(found.edge).toBe('release');
    expect(found.notes).toEqual([expect.stringMatching(/goes out when the button is pressed/)]);
    expect(completeRegions([], { ...sure, unsure: true }, 'press', 'a.mp4').edge).toBe('press');
    expect(completeRegions([led], sure, 'press', 'a.mp4').edge).toBe('press');
  });

  it('says that it is unsure', () => {
    const { unsure, notes } = completeRegions([], { ...sure, unsure: true }, 'press', 'a.mp4');
    expect(unsure).toBe(true);
    expect(notes.join(' ')).toMatch(/without certainty/);
  });

  it('refuses a clip without LED or screen', () => {
    const none = { ...sure, regions: [], notes: ['Nothing changes.'] };
    expect(() => completeRegions([led], none, 'press', 'a.mp4')).toThrow(AnalysisError);
    expect(() => completeRegions([led], none, 'press', 'a.mp4')).toThrow(/a\.mp4: Nothing changes\./);
  });
});
