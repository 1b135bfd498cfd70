/** The commonest of several things that change in one place: a light, apart from the thumb that passes over it. */
import { type BlockContrasts, dot, norm, type Overview } from './activity.js';
import { CORE_SHARE, describeCore, type Patch } from './patches.js';

/** How alike two changes of a patch must be in their pattern of blocks (cosine) to be of one kind. */
const ALIKE = 0.7;
/** Sizes of a light's own changes, of the usual one: exposure wanders, and a shadow passes. */
const LEAST_OF_USUAL = 0.6;
const MOST_OF_USUAL = 1.7;

/**
 * The patch as the commonest kind of its changes shows it: with a thumb that passes over a light, two things change in
 * the same place, and only what comes back again and again in the same blocks is the light.
 * @param sign changes for the brighter (1) or the darker.
 * @returns the patch itself where all of its changes with this sign are alike.
 */
export function commonestPart(overview: Overview, patch: Patch, sign: 1 | -1, series: BlockContrasts): Patch {
  const frames = patch.events.filter((e) => Math.sign(e.change) === sign).map((e) => e.frame);
  if (frames.length < 3) return patch;
  const patterns = frames.map((k) => Float32Array.from(patch.blocks, (b) => series.get(b)![k]!));
  const norms = patterns.map((p) => norm(p) + 1e-6);
  const likeness = patterns.map((p, i) =>
    Float32Array.from(patterns, (q, j) => dot(p, q) / (norms[i]! * norms[j]!)),
  );
  let middle = 0;
  let most = 0;
  likeness.forEach((row, i) => {
    const alike = row.reduce((n, v) => (v > ALIKE ? n + v : n), 0);
    if (alike > most) [middle, most] = [i, alike];
  });
  const members = patterns.filter((_, i) => likeness[middle]![i]! > ALIKE);
  if (members.length < 3) return patch;
  if (members.length === frames.length) return ofUsualSize(patch, sign);
  const sizes = patch.blocks.map((_, i) => Math.abs(members.reduce((sum, p) => sum + p[i]!, 0)));
  const largest = sizes.reduce((a, b) => Math.max(a, b), 0);
  const inCore = [...sizes.keys()].filter((i) => sizes[i]! >= CORE_SHARE * largest);
  const core = inCore.map((i) => patch.blocks[i]!);
  const part = describeCore(overview, patch.blocks, core, series);
  const typical = members.map(norm).sort((a, b) => a - b)[members.length >> 1]!;
  // The light's own changes again, in its own blocks: those that look like its others there, and are about as strong.
  const pattern = Float32Array.from(inCore, (i) => sizes[i]! / largest);
  const within = norm(pattern);
  const usual = (typical * within) / Math.sqrt(sizes.reduce((sum, v) => sum + (v / largest) ** 2, 0));
  const events = part.events.filter((e) => {
    const own = Float32Array.from(core, (b) => series.get(b)![e.frame]!);
    const size = Math.abs(dot(own, pattern)) / within;
    return size > ALIKE * norm(own) && isLike(size, usual);
  });
  return { ...part, events };
}

/** Without the changes of one sign that are of another size than most: of a thumb as bright as the dark light, say. */
function ofUsualSize(patch: Patch, sign: 1 | -1): Patch {
  const sizes = patch.events.filter((e) => Math.sign(e.change) === sign).map((e) => Math.abs(e.change));
  const usual = sizes.sort((a, b) => a - b)[sizes.length >> 1]!;
  if (sizes.every((size) => isLike(size, usual))) return patch;
  const events = patch.events.filter(
    (e) => Math.sign(e.change) !== sign || isLike(Math.abs(e.change), usual),
  );
  return { ...patch, events };
}

function isLike(size: number, usual: number): boolean {
  return size > LEAST_OF_USUAL * usual && size < MOST_OF_USUAL * usual;
}
