/** Two explanations of the same light, one answer: where a beam and a flash fit alike, an onset lies between what both say. */
import { type Onset, type OnsetSet, UNSEEN } from './onset.js';

/** Onsets by two explanations of the same light, halfway between them. */
export function eitherOf(one: OnsetSet, other: OnsetSet, refreshS: number): OnsetSet {
  const onsets = one.onsets.map((onset) => {
    const near = other.onsets.filter((o) => o.sign === onset.sign);
    const rival = near.reduce<Onset | null>(
      (a, b) => (!a || Math.abs(b.levelS - onset.levelS) < Math.abs(a.levelS - onset.levelS) ? b : a),
      null,
    );
    if (!rival || Math.abs(rival.levelS - onset.levelS) > refreshS) {
      return { ...onset, flags: [...new Set([...onset.flags, UNSEEN])] };
    }
    const half = (rival.levelS - onset.levelS) / 2;
    const move = (t: number) => t + half;
    const firstLightS = Math.min(onset.firstLightS, rival.firstLightS);
    return {
      ...onset,
      firstLightS: Math.min(firstLightS, move(onset.levelS)),
      levelS: move(onset.levelS),
      halfS: Math.max(move(onset.levelS), (onset.halfS + rival.halfS) / 2),
      settledS: Math.max(move(onset.levelS), onset.halfS, rival.halfS, onset.settledS, rival.settledS),
      sdS: Math.hypot(Math.max(onset.sdS, rival.sdS), half),
      excessKurtosis: Math.max(onset.excessKurtosis, rival.excessKurtosis),
      intervalS: [
        Math.min(onset.intervalS[0], rival.intervalS[0]),
        Math.max(onset.intervalS[1], rival.intervalS[1]),
      ] as const,
      flags: [...new Set([...onset.flags, ...rival.flags])],
    };
  });
  return { ...one, onsets, shapeSdS: Math.max(one.shapeSdS, other.shapeSdS) };
}
