/** Plain sentences on how a clip's time is known: its rate, gaps, pauses, parts, and pictures that are no captures. */
import type { Remark } from './clipRemarks.js';
import type { FastParts } from './fastParts.js';
import type { FrameGrid } from './frameGrid.js';
import type { PictureVerdict } from './pictureCadence.js';
import type { RateSource } from './rateDecision.js';

/** A rate for people: three decimals at most. */
export function rateText(rateHz: number): string {
  return String(Number(rateHz.toFixed(3)));
}

/** What the scale between file and camera comes from, in words. */
const KNOWN_BY: Readonly<Record<RateSource, string>> = {
  stated: 'as stated',
  light: 'by the calibration light',
  tag: "by the file's capture-rate tag",
  timestamps: 'by the timestamps alone',
};

/** The sentence on the speed of the file. */
export function speedRemark(scale: number, source: RateSource, fileHz: number): Remark {
  if (scale === 1) {
    return {
      code: 'real-time',
      text: `The file runs in real time at ${rateText(fileHz)} fps (${KNOWN_BY[source]}); its times are used as they are.`,
    };
  }
  return {
    code: 'retimed',
    text: `The file plays ${rateText(1 / scale)} times slower than life (${rateText(fileHz)} fps for ${rateText(fileHz / scale)} fps filmed, ${KNOWN_BY[source]}); times are divided by that.`,
  };
}

/** Sentences on the shape of the timestamps; each also is a warning. */
export function gridRemarks(grid: FrameGrid, parts: FastParts | null): Remark[] {
  const remarks: Remark[] = [];
  const say = (when: boolean, code: string, text: string) => {
    if (when) remarks.push({ code, text });
  };
  const frames = grid.missingBefore.length;
  const pauses = grid.pauses.length - (parts?.breaks.length ?? 0);
  say(
    parts !== null,
    'fast-part',
    `The clip changes its rate: ${frames} frames form its fast part${(parts?.breaks.length ?? 0) > 0 ? 's' : ''}, and only those are measured; ` +
      `${parts?.slowFrames} slower frames are left aside.`,
  );
  const share = ((100 * grid.droppedFrames) / (frames + grid.droppedFrames)).toFixed(1);
  say(
    grid.droppedFrames > 0,
    'missing-frames',
    `${grid.droppedFrames} camera frames are missing in ${grid.gaps} gaps (${share} %); readings beside a gap are less certain.`,
  );
  say(
    pauses > 0,
    'pause',
    `The recording pauses ${pauses} times (before frame ${grid.pauses.slice(0, 5).join(', ')}); nothing can be timed across a pause.`,
  );
  say(
    grid.periodTicks < 1.2,
    'clock-too-coarse',
    'The file\u2019s clock ticks hardly faster than its frames come, so the rate and missing frames are uncertain: use the unmodified original.',
  );
  say(
    grid.backward > 0,
    'times-not-rising',
    `${grid.backward} frames have a time that is not after the frame before them.`,
  );
  say(
    grid.rmsTicks > Math.max(grid.periodTicks / 20, grid.latticeTicks),
    'uneven-times',
    `The frames are timed unevenly (${((100 * grid.rmsTicks) / grid.periodTicks).toFixed(0)} % of a period RMS); each frame's own time is used.`,
  );
  return remarks;
}

/** Sentences on pictures that are no captures of their own; each also is a warning. */
export function pictureRemarks(pictures: PictureVerdict | undefined, captureHz: number): Remark[] {
  if (pictures === undefined || pictures.kind === 'genuine') return [];
  const rate = rateText(captureHz);
  if (pictures.kind === 'maybe-blends') {
    return [
      {
        code: 'maybe-interpolated',
        text: 'The noise of the pictures beats as if part of them were blended from their neighbours; if the phone makes pictures itself, every reading is less certain than it says.',
      },
    ];
  }
  if (pictures.kind === 'blends') {
    return [
      {
        code: 'interpolated',
        text: `${pictures.madeFrames} pictures are blended from their neighbours instead of filmed; only the others are used, so the true rate is ${rate} fps.`,
      },
    ];
  }
  return [
    pictures.every > 1
      ? {
          code: 'doubled',
          text: `Every picture is in the file ${rateText(pictures.every)} times; copies are left out, so the true rate is ${rate} fps.`,
        }
      : {
          code: 'repeated-frames',
          text: `${pictures.madeFrames} frames repeat the one before them; they count as missing captures.`,
        },
  ];
}
