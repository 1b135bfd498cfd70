/** Groups of regions by labels, and which group stands against which. */
import { UsageError } from '../errors.js';
import type { Labels } from '../record/comparison.js';
import { type MeasuredRegion, ZERO_LABEL } from './measuredRegion.js';

/** The regions that share the labels of `by` and their place. */
export interface RegionGroup {
  readonly labels: Labels;
  readonly name: string;
  /** Region name; of regions with labels of their own, the first one's. */
  readonly region: string;
  readonly members: readonly MeasuredRegion[];
}

/** Groups in the order in which they first appear. */
export function groupRegions(regions: readonly MeasuredRegion[], by: readonly string[]): RegionGroup[] {
  if (by.length === 0)
    throw new UsageError(
      'nothing to group by: give at least one label key with --by, for example --by chain',
    );
  const known = [...new Set(regions.flatMap((r) => Object.keys(r.labels)))].sort();
  for (const key of by) {
    if (known.includes(key)) continue;
    const labels = known.filter((k) => k !== ZERO_LABEL.key);
    throw new UsageError(
      `no clip has a label "${key}": ${labels.length > 0 ? `there are ${labels.join(', ')}` : 'give labels in the recipes, in session.csv, or with measure --label'}`,
    );
  }
  const groups = new Map<string, { labels: Labels; region: string; members: MeasuredRegion[] }>();
  for (const region of regions) {
    const labels = Object.fromEntries(by.map((key) => [key, region.labels[key] ?? '']));
    const place = region.hasOwnLabels ? '' : region.name;
    const key = JSON.stringify([labels, place]);
    const group = groups.get(key);
    if (group) group.members.push(region);
    else groups.set(key, { labels, region: region.name, members: [region] });
  }
  return [...groups.values()].map((group) => ({ ...group, name: nameOf(group.labels) }));
}

/** Labels as a heading; a label that is missing is said to be. */
export function nameOf(labels: Labels): string {
  return Object.entries(labels)
    .map(([key, value]) => (value === '' ? `no ${key}` : value))
    .join(', ');
}

/** A group and the group it is held against. */
export interface Matched {
  readonly group: number;
  readonly baseline: number;
}

/** Pairs of groups to compare, and sentences on groups that stand alone. */
export interface Matching {
  readonly pairs: readonly Matched[];
  readonly isBaseline: readonly boolean[];
  readonly warnings: readonly string[];
}

/**
 * Finds each group's baseline: the group that has the stated labels, equal values in the other labels of `by`, and the
 * same region; the region's name does not count where it is the only one on either side.
 * @throws UsageError where a key is not among `by`, or no group has the stated labels
 */
export function matchBaselines(
  groups: readonly RegionGroup[],
  by: readonly string[],
  baseline: Labels,
): Matching {
  for (const key of Object.keys(baseline)) {
    if (!by.includes(key)) {
      throw new UsageError(
        `the baseline names the label "${key}", which is not among those of --by (${by.join(', ')})`,
      );
    }
  }
  const isBaseline = groups.map(({ labels }) => Object.entries(baseline).every(([k, v]) => labels[k] === v));
  if (!isBaseline.includes(true)) {
    const there = [...new Set(groups.map((g) => g.name))].join('; ');
    const stated = Object.entries(baseline).map(([k, v]) => `${k}=${v}`);
    throw new UsageError(`no clip belongs to the baseline ${stated.join(', ')}: there are ${there}`);
  }
  const others = by.filter((key) => !(key in baseline));
  const pairs: Matched[] = [];
  const warnings: string[] = [];
  groups.forEach((group, g) => {
    if (isBaseline[g]) return;
    const candidates = groups.flatMap((_, b) =>
      isBaseline[b] && others.every((key) => groups[b]!.labels[key] === group.labels[key]) ? [b] : [],
    );
    const rivals = groups.filter((r) => nameOf(r.labels) === group.name).length;
    const named = candidates.find((b) => groups[b]!.region === group.region);
    const found = named ?? (candidates.length === 1 && rivals === 1 ? candidates[0] : undefined);
    if (found !== undefined) pairs.push({ group: g, baseline: found });
    else if (candidates.length === 0) {
      warnings.push(
        `${group.name} is compared with nothing: no baseline was filmed with the same ${others.join(', ')}.`,
      );
    } else {
      warnings.push(
        `${group.name}, region ${group.region}, is compared with nothing: the baseline has the region${candidates.length > 1 ? 's' : ''} ${candidates.map((b) => groups[b]!.region).join(', ')}; name the same place alike in all recipes.`,
      );
    }
  });
  return { pairs, isBaseline, warnings };
}
