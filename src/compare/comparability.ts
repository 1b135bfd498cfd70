/** What must be alike before two latencies may be compared, and what a person may allow all the same. */
import { UsageError } from '../errors.js';
import type { MeasuredRegion } from './measuredRegion.js';
import type { RegionGroup } from './regionGroups.js';

/** What can be allowed to differ. */
export const ALLOWANCES = ['level', 'edge', 'light', 'height', 'refresh'] as const;

/** One thing that can be allowed to differ. */
export type Allowance = (typeof ALLOWANCES)[number];

/** One difference that stands in the way. */
export interface Obstacle {
  readonly allowance: Allowance;
  readonly text: string;
}

/** A refusal to compare: what stands in the way, and how the command line would allow it. */
export class NotComparable extends UsageError {
  /** What is refused, each once. */
  readonly allowances: readonly Allowance[];
  /** What stands in the way and what to do about it, without the word of any command. */
  readonly reason: string;

  constructor(obstacles: readonly Obstacle[]) {
    const allowances = [...new Set(obstacles.map((o) => o.allowance))];
    const shown = [...new Set(obstacles.map((o) => o.text))];
    const more = shown.length > 3 ? `; and ${shown.length - 3} more` : '';
    const reason = `this does not compare: ${shown.slice(0, 3).join('; ')}${more}. Group by the label that tells them apart, leave clips out, or compare all the same`;
    super(`${reason} with ${allowances.map((a) => `--allow ${a}`).join(' ')}`);
    this.allowances = allowances;
    this.reason = reason;
  }
}

/** 60 and 59.94 Hz are one rate here; 60 and 60.6 are not. */
const SAME_REFRESH = 0.005;
/** Heights further apart than this share of the picture are other places on the screen; judgement. */
const OTHER_HEIGHT = 0.1;
/** Heights further apart than this are said. */
const NOTED_HEIGHT = 0.03;

/**
 * What stands between the members of two groups, one obstacle a kind.
 * @param pairedOnly true where both were only ever filmed side by side: two screens, whose places in the picture say nothing
 */
export function obstaclesBetween(group: RegionGroup, baseline: RegionGroup, pairedOnly: boolean): Obstacle[] {
  const all = [...group.members, ...baseline.members];
  const names = `${group.name} and ${baseline.name}`;
  const obstacles: Obstacle[] = [];
  const differ = <T>(
    allowance: Allowance,
    values: readonly T[],
    text: (distinct: readonly T[]) => string,
  ): void => {
    const distinct = [...new Set(values)];
    if (distinct.length > 1) obstacles.push({ allowance, text: text(distinct) });
  };
  differ(
    'level',
    all.map((r) => r.level),
    (v) => `${names} were measured at different response levels (${v.map((l) => `${100 * l} %`).join(', ')})`,
  );
  differ(
    'edge',
    all.map((r) => r.edge),
    (v) => `${names} count from different edges of the LED (${v.join(', ')})`,
  );
  differ(
    'light',
    all.flatMap((r) => (r.light === null ? [] : [r.light])),
    () =>
      `${names} were read off different kinds of light (held, and pulsed as of a tube or a strobed backlight), whose onsets are defined differently`,
  );
  const refresh = refreshObstacle(all, names);
  if (refresh) obstacles.push(refresh);
  const gap = heightGap(group, baseline);
  if (!pairedOnly && gap > OTHER_HEIGHT) {
    obstacles.push({
      allowance: 'height',
      text: `the regions of ${names} lie at different heights (${(100 * gap).toFixed(0)} % of the picture apart), and a screen is drawn from top to bottom`,
    });
  }
  return obstacles;
}

function refreshObstacle(all: readonly MeasuredRegion[], names: string): Obstacle | null {
  const known = all.flatMap((r) => (r.periodMs === null ? [] : [r.periodMs]));
  if (known.length === 0) return null;
  if (known.length < all.length) {
    const without = all.find((r) => r.periodMs === null)!;
    return {
      allowance: 'refresh',
      text: `the refresh rate of the display is not known for ${without.file}, but for others of ${names}; state it and measure that clip again`,
    };
  }
  const [low, high] = [Math.min(...known), Math.max(...known)];
  if (high <= low * (1 + SAME_REFRESH)) return null;
  return {
    allowance: 'refresh',
    text: `${names} were filmed at different refresh rates (${(1000 / high).toFixed(2)} and ${(1000 / low).toFixed(2)} Hz), so that their waits differ`,
  };
}

/** Largest distance between a region of one group and one of the other, share of the picture. */
function heightGap(group: RegionGroup, baseline: RegionGroup): number {
  let gap = 0;
  for (const a of group.members) {
    for (const b of baseline.members) gap = Math.max(gap, Math.abs(a.heightShare - b.heightShare));
  }
  return gap;
}

/** A sentence where heights differ a little; null otherwise. */
export function heightNote(group: RegionGroup, baseline: RegionGroup): string | null {
  const gap = heightGap(group, baseline);
  if (gap <= NOTED_HEIGHT || gap > OTHER_HEIGHT) return null;
  return `The regions of ${group.name} and ${baseline.name} lie up to ${(100 * gap).toFixed(0)} % of the picture's height apart: where the screen itself did not move, a part of the difference is its drawing from top to bottom.`;
}

/**
 * Refuses what does not compare and was not allowed.
 * @returns the texts of what was allowed
 * @throws NotComparable naming every obstacle, and how to allow it
 */
export function allowed(obstacles: readonly Obstacle[], allow: readonly Allowance[]): string[] {
  const refused = obstacles.filter((o) => !allow.includes(o.allowance));
  if (refused.length > 0) throw new NotComparable(refused);
  return obstacles.map((o) => `Allowed: ${o.text}.`);
}
