/** What the boxes of a picture track mean: how it stands, and what its edit list shows. */
import type { Track } from './boxes.js';
import type { ReportedStream } from './ffmpegReport.js';
import type { ClipFacts, Orientation } from './frameSource.js';

/** Kind of the edit list, and how many frames it shows and hides. */
export function describeEdits(
  track: Track | null,
  movieTimescale: number,
): {
  readonly kind: ClipFacts['editList'];
  readonly shownFrames: number;
  readonly hiddenFrames: number;
  /** Media times of the frames that are shown, in order, ticks of the track. */
  readonly shownTicks: Float64Array;
} {
  const all = track?.sampleCount ?? 0;
  const edits = track?.edits.filter((edit) => edit.mediaTicks !== -1) ?? [];
  const [edit] = edits;
  const shownTicks = (track?.presentationTicks ?? new Float64Array(0)).slice().sort();
  const whole = { shownFrames: all, hiddenFrames: 0, shownTicks };
  if (track === null || edit === undefined) return { kind: 'none', ...whole };
  if (edits.some(({ rate }) => rate !== 1)) return { kind: 'speed', ...whole };
  // An edit of no length would hide every frame; players disagree on it, so it is not followed.
  if (edits.length > 1 || edit.durationTicks === 0) return { kind: 'pieces', ...whole };
  const length = movieTimescale > 0 ? (edit.durationTicks * track.timescale) / movieTimescale : 0;
  // A movie tick of grace: the two timescales round differently.
  const endTicks =
    length > 0 ? edit.mediaTicks + length + track.timescale / movieTimescale : Number.POSITIVE_INFINITY;
  const inside = shownTicks.filter((ticks) => ticks >= edit.mediaTicks && ticks < endTicks);
  const shown = inside.length;
  return {
    kind: shown < all ? 'trim' : 'none',
    shownFrames: shown,
    hiddenFrames: all - shown,
    shownTicks: inside,
  };
}

/** How long after the movie's start a track begins (empty edits in front), s. */
export function startOffsetS(track: Track | null, movieTimescale: number): number {
  let ticks = 0;
  for (const edit of track?.edits ?? []) {
    if (edit.mediaTicks !== -1) break;
    ticks += edit.durationTicks;
  }
  return movieTimescale > 0 ? ticks / movieTimescale : 0;
}

/** True where pictures are stored in another order than they are shown. */
export function isReordered(decodeOrderTicks: ArrayLike<number>): boolean {
  for (let i = 1; i < decodeOrderTicks.length; i++) {
    if (decodeOrderTicks[i]! < decodeOrderTicks[i - 1]!) return true;
  }
  return false;
}

/**
 * Display matrix [a b; c d] (x' = a x + c y, y' = b x + d y, y down) as a mirror followed by a clockwise turn;
 * without boxes, the turn that FFmpeg reports.
 */
export function orientationOf(track: Track | null, stream: ReportedStream, warnings: string[]): Orientation {
  let mirrored = false;
  let turnDeg = stream.rotationCcwDeg === null ? 0 : -stream.rotationCcwDeg;
  if (track !== null) {
    const [a, b, c, d] = track.matrix;
    mirrored = a * d - b * c < 0;
    turnDeg = a === 0 && b === 0 ? 0 : (Math.atan2(mirrored ? -b : b, mirrored ? -a : a) * 180) / Math.PI;
  }
  const quarters = Math.round(turnDeg / 90);
  if (Math.abs(turnDeg - quarters * 90) > 1) {
    warnings.push(
      `The file asks for a turn by ${turnDeg.toFixed(1)} degrees; the nearest quarter turn is used.`,
    );
  }
  const rotationDeg = ((((quarters % 4) + 4) % 4) * 90) as Orientation['rotationDeg'];
  return { rotationDeg, mirrored };
}
