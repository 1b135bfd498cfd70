/** Plain sentences on how a clip's file is put together, one for each thing that a player handles in silence. */
import type { ClipFacts } from './frameSource.js';

/** One thing worth knowing about a clip: a stable word for programs and a sentence for people. */
export interface Remark {
  /** For example `rotated`. */
  readonly code: string;
  /** A whole sentence: what is so, and what lagreel does with it. */
  readonly text: string;
}

/** Codecs that store every picture by itself. */
const WHOLE_PICTURES = new Set(['mjpeg', 'prores', 'dnxhd', 'ffv1', 'rawvideo']);

/** What stands out in a clip's file and pictures, in a fixed order; nothing for what is usual. */
export function clipRemarks(facts: Omit<ClipFacts, 'bytes' | 'sha256' | 'decoder'>): readonly Remark[] {
  const { layout, orientation } = facts;
  const remarks: Remark[] = [];
  const say = (when: boolean, code: string, text: string) => {
    if (when) remarks.push({ code, text });
  };
  if (layout) {
    const { pixelAspect, framesPresent, hiddenFrames, startOffsetS } = layout;
    say(
      layout.reordered,
      'reordered',
      'Pictures are stored in another order than they are shown (B-frames); each is read at the time at which it is shown.',
    );
    say(
      layout.fragmented,
      'fragmented',
      'The file is fragmented and has no list of its frames; they are counted while reading.',
    );
    say(
      facts.editList === 'trim',
      'trimmed',
      `A trim hides ${hiddenFrames} frames of the file; only the shown part is measured.`,
    );
    say(
      facts.editList === 'speed',
      'edited-speed',
      'An edit list changes the playback speed; the recorded times are used, not the edited ones.',
    );
    say(
      facts.editList === 'pieces',
      'edited-pieces',
      'An edit list plays the clip in pieces; all frames and their recorded times are used.',
    );
    say(
      startOffsetS > 0,
      'start-offset',
      `The picture starts ${startOffsetS.toFixed(3)} s after the file's own start; latencies are differences, so nothing changes.`,
    );
    say(
      layout.pictureStreams > 1,
      'several-streams',
      `The file holds ${layout.pictureStreams} picture streams; the first (${facts.codedWidth} x ${facts.codedHeight} px) is used.`,
    );
    say(layout.coverPicture, 'cover-picture', 'The file holds a cover picture, which is left aside.');
    say(
      layout.soundFirst,
      'sound-first',
      'Sound comes first in the file; the first picture stream is used, wherever it stands.',
    );
    say(
      layout.trailingBytes > 0,
      'trailing-data',
      `${layout.trailingBytes} bytes after the video are notes of the camera's own or left-overs; they are not read.`,
    );
    say(
      framesPresent !== null && framesPresent[0] < framesPresent[1],
      'cut-short',
      `The file is cut short: ${framesPresent?.[0]} of ${framesPresent?.[1]} frames are in it, and those are used; copy it again from the camera.`,
    );
    say(
      layout.interlaced,
      'interlaced',
      'The pictures are interlaced: each holds two half-pictures taken at different times, so times within a picture are not exact.',
    );
    say(
      pixelAspect !== null && pixelAspect[0] !== pixelAspect[1] && pixelAspect[0] > 0 && pixelAspect[1] > 0,
      'non-square-pixels',
      `Pixels are not square (${pixelAspect?.[0]}:${pixelAspect?.[1]}); regions are given in stored pixels, so a player shows the picture wider or narrower.`,
    );
  }
  say(
    orientation.rotationDeg !== 0,
    'rotated',
    `The picture is stored on its side or head and is turned by ${orientation.rotationDeg} degrees clockwise; regions are given in the upright picture, sensor rows follow the stored one.`,
  );
  say(
    orientation.mirrored,
    'mirrored',
    'The picture is stored mirrored; regions are given in the picture as shown.',
  );
  say(
    facts.range === 'full',
    'full-range',
    'Brightness uses the full range of codes (0 to 255 in 8 bit); it is read as stored.',
  );
  say(
    facts.range === 'limited',
    'limited-range',
    facts.rangeTagged
      ? 'Brightness uses the limited range of codes (16 to 235 in 8 bit); it is read as stored.'
      : 'The file does not say which range of codes it uses; the limited range (16 to 235 in 8 bit) is taken.',
  );
  say(
    facts.bitDepth > 8,
    'deep-colour',
    `Brightness is stored in ${facts.bitDepth} bit and is measured in ${facts.bitDepth} bit.`,
  );
  say(
    facts.transfer === 'hlg' || facts.transfer === 'pq',
    'high-dynamic-range',
    `The tone curve is ${facts.transfer.toUpperCase()} (high dynamic range); it is undone before light is measured.`,
  );
  say(
    WHOLE_PICTURES.has(facts.codec),
    'whole-pictures',
    `Every picture is coded by itself (${facts.codec}); nothing of one picture leaks into the next.`,
  );
  return remarks;
}
