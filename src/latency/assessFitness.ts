/** Whether a clip can be measured, from measured evidence, with what to change when filming again. */
import { isMostlyUnanswered } from '../press/clipDoubts.js';

/** Evidence of one clip. */
export interface FitnessEvidence {
  readonly captureRateHz: number;
  readonly rateSource: string;
  readonly ledContrast: number;
  readonly ledSaturated: boolean;
  readonly presses: number;
  readonly measured: number;
  readonly ambiguous: number;
  readonly noResponse: number;
  /** The regions were found, without certainty. */
  readonly regionsUnsure: boolean;
  /** The LED rests in the state that a press is said to bring about. */
  readonly otherEdge: boolean;
  /** Presses whose LED changed in another way than usual. */
  readonly oddEdges: number;
  /** Share (0..1) of the measured responses that carry a flag. */
  readonly flaggedShare: number;
  readonly screens: readonly {
    readonly name: string;
    /** Measured presses that it answered. */
    readonly answered: number;
    readonly contrast: number;
    readonly saturated: boolean;
    /** Share (0..1) of its responses whose light ripples. */
    readonly flickering: number;
  }[];
  readonly exposureFraction: number;
  readonly exposureMeasured: boolean;
  readonly frames: number;
  readonly droppedFrames: number;
  readonly doubledFrames: number;
  readonly damagedFrames: number;
  readonly irregularityFrames: number;
  readonly tickFrames: number;
  /** Readout known, and largest distance between LED and a screen region in the readout, 0..1. */
  readonly readoutKnown: boolean;
  readonly readoutDistance: number;
  /** How far each region's picture moves while nothing changes, px (RMS; null: not known), and its shorter side, px. */
  readonly shaken: readonly {
    readonly name: string;
    readonly shakePx: number | null;
    readonly sidePx: number;
  }[];
}

/** One reason, with what was seen and what to do. */
export interface Reason {
  readonly code: string;
  readonly severity: 'note' | 'care' | 'unfit';
  readonly text: string;
}

/** Class and reasons: any `unfit` makes the clip unfit, any `care` makes it usable with care. */
export interface Fitness {
  readonly class: 'fit' | 'usable with care' | 'unfit';
  readonly reasons: readonly Reason[];
}

/** Less movement than this (px, RMS) moves no light worth a word (judgement). */
const SHAKEN_PX = 0.5;
/** What moves by more than this share of its region's shorter side leaves the region now and then (judgement). */
const MUCH_SHAKEN = 0.12;

/** Judges a clip. */
export function assessFitness(e: FitnessEvidence): Fitness {
  const reasons: Reason[] = [];
  const add = (when: boolean, severity: Reason['severity'], code: string, text: string) => {
    if (when) reasons.push({ code, severity, text });
  };
  const percent = (share: number) => `${(100 * share).toFixed(share < 0.1 ? 1 : 0)} %`;
  add(
    e.ledContrast < 6,
    'unfit',
    'no-led',
    'No LED with two clear levels was seen in its region: film closer, darken the room around the controller, or set the region by hand.',
  );
  add(
    e.ledContrast >= 6 && e.ledContrast < 15,
    'care',
    'weak-led',
    `The LED stands only ${e.ledContrast.toFixed(0)} times above the noise: film closer or dim the room.`,
  );
  add(
    e.ledSaturated,
    'care',
    'led-saturated',
    'The LED is clipped white in all of its region, so that partly lit frames look fully lit: dim it (tape, diffuser) or include its halo in the region.',
  );
  add(
    e.ledContrast >= 6 && e.presses === 0,
    'unfit',
    'no-presses',
    'The LED never changes in the way of a press: film a few dozen presses.',
  );
  add(
    e.presses > 0 && e.measured === 0,
    'unfit',
    'no-responses',
    e.ambiguous > 0
      ? `None of ${e.presses} presses could be measured (${e.noResponse} without response, ${e.ambiguous} ambiguous): the presses say why. Check the regions and the response window.`
      : 'No press was followed by a change of a screen region: check the regions and the response window.',
  );
  const mostUnanswered = isMostlyUnanswered(e.presses, e.measured);
  add(
    mostUnanswered,
    'unfit',
    'most-unanswered',
    `Only ${e.measured} of ${e.presses} presses could be measured: what changes in the screen regions is hardly their answer. Choose regions that answer every press, film steadier and with a longer exposure.`,
  );
  add(
    e.measured > 0 && e.measured < 0.9 * e.presses && !mostUnanswered,
    'care',
    'few-responses',
    `Only ${e.measured} of ${e.presses} presses could be measured (${e.noResponse} without response, ${e.ambiguous} ambiguous).`,
  );
  add(
    e.regionsUnsure,
    'care',
    'regions-unsure',
    'LED and screen were found without certainty: look at the picture of the regions, and set them by hand if they are wrong. Every press is flagged.',
  );
  add(
    e.otherEdge,
    'care',
    'led-rests-the-other-way',
    "The LED spends most of the clip in the state that a press is said to bring about: the button's release may have been taken for its press. State the edge.",
  );
  add(
    e.oddEdges > 0,
    'care',
    'odd-led-edges',
    `${e.oddEdges} times the LED's light changed in another way than at a press (a thumb over it, a moved picture): keep the LED in free view, and the phone still. These are not measured.`,
  );
  add(
    e.flaggedShare > 0.15,
    'care',
    'many-flags',
    `${percent(e.flaggedShare)} of the responses carry a flag: look at them before believing the distribution.`,
  );
  add(
    e.measured > 0 && e.measured < 8,
    'note',
    'few-presses',
    `Only ${e.measured} presses were measured: film 20 or more for a useful distribution.`,
  );
  for (const screen of e.screens) {
    // Another region may have answered, so that the press itself is measured.
    add(
      screen.answered < 0.9 * e.measured,
      'care',
      'region-misses',
      `Region "${screen.name}" answered only ${screen.answered} of the ${e.measured} measured presses: it may show too little of the change, or the flashes that would show it fell between the exposures. Draw it where every press changes the picture, or leave it out.`,
    );
    add(
      screen.contrast > 0 && screen.contrast < 8,
      'care',
      'weak-screen',
      `The change in region "${screen.name}" stands only ${screen.contrast.toFixed(1)} times above the noise: choose a region that changes more, or raise the exposure.`,
    );
    add(
      screen.flickering > 0.3,
      'care',
      'screen-flickers',
      `The light of region "${screen.name}" does not stand still between its changes (a dimmed backlight seen through a short exposure, or an automatic exposure that wanders): lock the exposure, make it longer, or set the display to full brightness.`,
    );
    add(
      screen.saturated,
      'care',
      'screen-saturated',
      `Region "${screen.name}" is clipped white: lower the exposure, or use a darker test picture.`,
    );
  }
  add(
    e.captureRateHz < 100,
    'care',
    'slow-capture',
    `Captured at ${e.captureRateHz.toFixed(2)} frames a second: one camera frame is ${(1000 / e.captureRateHz).toFixed(1)} ms. Use 240 where the phone offers it.`,
  );
  add(
    e.exposureFraction < 0.5,
    'care',
    'short-exposure',
    `The shutter is open for ${percent(e.exposureFraction)} of each frame, and what happens while it is closed cannot be timed: lock a longer exposure.`,
  );
  add(
    !e.exposureMeasured,
    'note',
    'exposure-assumed',
    'The exposure fraction could not be measured from so few LED edges and was assumed.',
  );
  add(
    e.droppedFrames > 0.01 * e.frames,
    'care',
    'dropped-frames',
    `${e.droppedFrames} frames are missing (${percent(e.droppedFrames / e.frames)}): free the phone's memory, film shorter clips.`,
  );
  add(
    e.droppedFrames > 0 && e.droppedFrames <= 0.01 * e.frames,
    'note',
    'dropped-frames',
    `${e.droppedFrames} ${e.droppedFrames === 1 ? 'frame is' : 'frames are'} missing; presses that they touch are flagged.`,
  );
  add(
    e.doubledFrames > 0.01 * e.frames,
    'care',
    'doubled-frames',
    `${e.doubledFrames} frames repeat the one before (${percent(e.doubledFrames / e.frames)}): the phone may film slower than it says.`,
  );
  add(
    e.damagedFrames > 0,
    'care',
    'damaged-frames',
    `${e.damagedFrames} frames could not be decoded: copy the clip again from the phone.`,
  );
  add(
    e.irregularityFrames > 0.05,
    'care',
    'irregular-times',
    `Timestamps wander by ${e.irregularityFrames.toFixed(2)} camera frames (rms): the phone's clock is uneven.`,
  );
  add(
    e.tickFrames > 0.1,
    'note',
    'coarse-timestamps',
    `Timestamps are rounded to ${e.tickFrames.toFixed(2)} camera frames; an even grid was fitted through them.`,
  );
  add(
    !e.readoutKnown && e.readoutDistance > 0.1,
    e.readoutDistance > 0.35 ? 'care' : 'note',
    'readout-unknown',
    `LED and screen lie ${percent(e.readoutDistance)} of the picture's rows apart and the camera's row readout is not known: this adds up to ${(0.5 * e.readoutDistance).toFixed(2)} camera frames either way to every latency alike. Film them at the same height, state the readout, or say with --scan where the display's lines lie.`,
  );
  const most = e.shaken.reduce<FitnessEvidence['shaken'][number] | null>(
    (worst, r) => ((r.shakePx ?? 0) / r.sidePx > (worst?.shakePx ?? 0) / (worst?.sidePx ?? 1) ? r : worst),
    null,
  );
  const shakePx = most?.shakePx ?? 0;
  add(
    shakePx > SHAKEN_PX,
    shakePx > MUCH_SHAKEN * (most?.sidePx ?? 0) ? 'care' : 'note',
    'shaken',
    `The picture moves by ${shakePx.toFixed(1)} px (RMS) in the region ${most?.name}, ${percent(shakePx / (most?.sidePx ?? 1))} of its shorter side, and regions do not follow: put the phone on something firm, or draw the regions with room around what changes.`,
  );
  add(
    e.rateSource === 'timestamps' && e.captureRateHz < 100,
    'care',
    'rate-weak',
    'The capture rate rests on the timestamps alone: if this is slow motion, state the rate with --capture-rate.',
  );
  const worst = reasons.some((r) => r.severity === 'unfit')
    ? 'unfit'
    : reasons.some((r) => r.severity === 'care')
      ? 'usable with care'
      : 'fit';
  return { class: worst, reasons };
}
