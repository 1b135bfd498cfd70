/** Several clips of several groups: each clip has a location of its own about its group's, and the spread is found. */
import { expected } from '../errors.js';
import {
  blurDensity,
  densityQuantiles,
  type GridDensity,
  mixDensities,
  multiplyDensities,
  normalised,
  probabilityBelow,
  subtractDensities,
  totalWeight,
} from './gridDensity.js';
import { weightedQuantiles } from './weightedPosterior.js';

/** One spread that is thought of, with what the groups' centres are under it. */
export interface SpreadNode {
  /** Between-clip standard deviation, in units of the locations. */
  readonly sd: number;
  /** Posterior probability. */
  readonly share: number;
  /** Centre of each group, in the order of the groups. */
  readonly centres: readonly GridDensity[];
}

/** Groups of clips with the spread between clips that they share. */
export interface RandomEffects {
  readonly nodes: readonly SpreadNode[];
  /** Clips less groups, of the groups with two clips or more: what the spread is known by. */
  readonly degreesOfFreedom: number;
  /** Posterior median and 95 % interval of the spread; null where no group has two clips. */
  readonly spread: { readonly sd: number; readonly interval: readonly [number, number] } | null;
}

/** Points of equal prior probability of the spread. */
const NODES = 24;
/** Nodes of less posterior probability than this are left out. */
const NEGLIGIBLE_SHARE = 1e-5;

/**
 * Random effects: location of clip c in group g is mu_g + b, b ~ N(0, tau^2), tau common to all groups (the
 * repeatability-within, reproducibility-between view of ISO 5725-1). Flat prior on each mu; half-Cauchy prior on tau
 * (Gelman, Bayesian Analysis 1 (2006) 515-534), whose heavy tail lets few clips that disagree say so. Where no group
 * has two clips the spread cannot be seen and is taken as nothing; say so beside the result.
 * @param groups likelihood of each clip's location, on one lattice; at least one clip a group
 * @param scale median of the prior of tau, in units of the locations
 */
export function randomEffects(groups: readonly (readonly GridDensity[])[], scale: number): RandomEffects {
  if (!(scale > 0)) throw expected('scale', 'a positive number', scale);
  for (const clips of groups) if (clips.length === 0) throw expected('groups', 'at least one clip each', 0);
  const repeated = groups.filter((clips) => clips.length > 1);
  const degreesOfFreedom = repeated.reduce((sum, clips) => sum + clips.length - 1, 0);
  if (degreesOfFreedom === 0) {
    const centres = groups.map((clips) => normalised(clips[0]!));
    return { nodes: [{ sd: 0, share: 1, centres }], degreesOfFreedom, spread: null };
  }
  const tried = Array.from({ length: NODES }, (_, k) => {
    const sd = scale * Math.tan((Math.PI / 2) * ((k + 0.5) / NODES));
    let logEvidence = 0;
    const products = groups.map((clips) => {
      const product = multiplyDensities(clips.map((clip) => blurDensity(clip, sd)));
      // A group with one clip says nothing about the spread, whatever the cut of its tails.
      if (clips.length > 1) logEvidence += Math.log(totalWeight(product));
      return product;
    });
    return { sd, logEvidence, products };
  });
  const best = Math.max(...tried.map((t) => t.logEvidence));
  if (best === Number.NEGATIVE_INFINITY) {
    throw expected('groups', 'clips that can belong together', 'clips far beyond any spread that is tried');
  }
  const total = tried.reduce((sum, t) => sum + Math.exp(t.logEvidence - best), 0);
  const nodes = tried
    .map(({ sd, logEvidence, products }) => ({ sd, share: Math.exp(logEvidence - best) / total, products }))
    .filter(({ share }) => share > NEGLIGIBLE_SHARE)
    .map(({ sd, share, products }) => ({ sd, share, centres: products.map(normalised) }));
  return { nodes, degreesOfFreedom, spread: spreadOf(nodes) };
}

function spreadOf(nodes: readonly SpreadNode[]): NonNullable<RandomEffects['spread']> {
  const points = { values: nodes.map((n) => n.sd), weights: nodes.map((n) => n.share) };
  const [low, middle, high] = weightedQuantiles(points, [0.025, 0.5, 0.975]);
  return { sd: middle!, interval: [low!, high!] };
}

/** Centre of one group over all spreads, with an error that all its clips share. */
export function centreOf(effects: RandomEffects, group: number, commonSd = 0): GridDensity {
  return blurDensity(
    mixDensities(effects.nodes.map(({ share, centres }) => ({ share, density: centres[group]! }))),
    commonSd,
  );
}

/** Centre of one group less that of another over all spreads, with an error that does not cancel between them. */
export function differenceOfCentres(
  effects: RandomEffects,
  group: number,
  baseline: number,
  commonSd = 0,
): GridDensity {
  const parts = effects.nodes.map(({ share, centres }) => ({
    share,
    density: subtractDensities(centres[group]!, centres[baseline]!),
  }));
  return blurDensity(mixDensities(parts), commonSd);
}

/** What a distribution of a difference says. */
export interface DifferenceFound {
  /** Median. */
  readonly difference: number;
  readonly interval: readonly [number, number];
  /** 90 % interval: equivalent where it lies inside the margin. */
  readonly interval90: readonly [number, number];
  /** Two-sided probability level of no difference: twice the smaller tail beyond zero. */
  readonly p: number;
  /** Larger level of the two one-sided tests against -margin and +margin. */
  readonly pEquivalence: number;
}

/**
 * Intervals and test levels of a difference. For a Student density these are the t test and the two one-sided tests
 * (Schuirmann 1987) exactly; for the wait model they hold as far as its intervals do (tests/accuracy/).
 * @param margin largest difference that counts as none, positive
 */
export function differenceFound(density: GridDensity, margin: number): DifferenceFound {
  if (!(margin > 0)) throw expected('margin', 'a positive number', margin);
  const [low, low90, middle, high90, high] = densityQuantiles(density, [0.025, 0.05, 0.5, 0.95, 0.975]);
  const below = probabilityBelow(density, 0);
  return {
    difference: middle!,
    interval: [low!, high!],
    interval90: [low90!, high90!],
    p: Math.min(1, 2 * Math.min(below, 1 - below)),
    pEquivalence: Math.max(probabilityBelow(density, -margin), 1 - probabilityBelow(density, margin)),
  };
}
