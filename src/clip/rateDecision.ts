/** Decides how file seconds relate to camera seconds, from the timestamps' rate, the tag and the user's word. */
import { UsageError } from '../errors.js';

/** Where the capture rate was taken from, strongest first. */
export type RateSource = 'stated' | 'light' | 'tag' | 'timestamps';

/** A decision, or the sentence that asks for what is missing. */
export type RateDecision =
  | {
      /** Capture seconds per media second. */
      readonly scale: number;
      readonly source: RateSource;
      /** The rate that the evidence names, Hz; the timestamps' own where nothing names one. */
      readonly namedHz: number;
      /** Relative standard uncertainty of the scale (type B). */
      readonly uncertaintyRel: number;
      readonly warnings: readonly string[];
    }
  | { readonly scale: null; readonly reason: string; readonly warnings: readonly string[] };

/** Rates at which phones and editors store slow motion, Hz. */
const PLAYBACK_RATES_HZ = [24, 25, 30, 50, 60, 24000 / 1001, 30000 / 1001, 60000 / 1001] as const;
const WHOLE_PLAYBACK_RATES = 5;

/** Crystal of a phone and the grid's rounding, relative (judgement: 50 ppm). */
const REAL_TIME_REL = 5e-5;
/** A stretch by nominal rates: sensors run up to a few 0.01 % beside their nominal rate, relative (judgement). */
const STRETCHED_REL = 3e-4;
/** A stretch between rates that are no usual ones, relative (judgement). */
const UNUSUAL_REL = 2e-3;

/** Agreement of two rates, relative. */
const AGREES = 0.02;
/** From here on a ratio is a stretch; between, it is neither. */
const STRETCHED_FROM = 1.9;
/** No phone stores slow motion above 60 fps, so timestamps from here on are real time (judgement). */
const REAL_TIME_FROM_HZ = 100;
/** No phone stores slow motion so slowly: every second frame was thrown away, or worse. */
const THINNED_BELOW_HZ = 20;
/** From here on phones film in bursts, and often make pictures of their own. */
const BURST_FROM_HZ = 480;

/**
 * The decision table. Priority: the user's statement, the tag, the timestamps alone.
 * @param fileHz rate of the timestamps, gaps taken out.
 * @param every frames of the file for each true capture: 2 where every picture is there twice.
 * @throws UsageError where a stated rate makes no sense with this file.
 */
export function decideRate(
  fileHz: number,
  tagHz: number | null,
  statedHz: number | null,
  every = 1,
): RateDecision {
  if (statedHz !== null) return byStatement(fileHz, tagHz, statedHz, every);
  if (tagHz !== null) return byTag(fileHz, tagHz);
  return every > 1 ? afterEditor(fileHz, every) : byTimestamps(fileHz);
}

/** Without a tag, repeated or blended pictures say that somebody made this file from another one. */
function afterEditor(fileHz: number, every: number): RateDecision {
  return {
    scale: null,
    reason:
      `The clip runs at ${shown(fileHz)} fps, but only every ${ordinal(every)} picture is a capture of its own and nothing says ` +
      'how fast it was filmed, so no milliseconds can be given: state the rate with --capture-rate (for example ' +
      '--capture-rate 240), or give the unmodified original.',
    warnings: [],
  };
}

function ordinal(every: number): string {
  return every === 2 ? 'second' : every === 3 ? 'third' : `${shown(every)}th`;
}

function byStatement(fileHz: number, tagHz: number | null, statedHz: number, every: number): RateDecision {
  if (!Number.isFinite(statedHz) || statedHz < 10 || statedHz > 100_000) {
    throw new UsageError(
      `expected the capture rate to be a number of frames per second from 10 to 100000, got ${statedHz}`,
    );
  }
  const warnings: string[] = [];
  if (tagHz !== null && Math.abs(statedHz / tagHz - 1) > AGREES) {
    warnings.push(
      `The stated capture rate (${shown(statedHz)} fps) differs from the file's tag (${shown(tagHz)} fps); the statement is used.`,
    );
  }
  const ratio = statedHz / fileHz;
  if (Math.abs(ratio - 1) <= AGREES || Math.abs(ratio * every - 1) <= AGREES) {
    return { scale: 1, source: 'stated', namedHz: statedHz, uncertaintyRel: REAL_TIME_REL, warnings };
  }
  if (ratio < STRETCHED_FROM) {
    throw new UsageError(
      `The stated capture rate of ${shown(statedHz)} fps does not fit this clip: its frames are stored at ` +
        `${shown(fileHz)} fps, and no camera stretches by ${ratio.toFixed(2)}; check --capture-rate.`,
    );
  }
  if (every > 1) {
    warnings.push(
      `The stated ${shown(statedHz)} fps are taken as the rate of all pictures, the repeated or blended ones counted; ` +
        `if it is the rate of true captures, state --capture-rate ${shown(statedHz * every)}.`,
    );
  }
  return stretched(fileHz, statedHz, 'stated', warnings);
}

function byTag(fileHz: number, tagHz: number): RateDecision {
  const ratio = tagHz / fileHz;
  if (Math.abs(ratio - 1) <= AGREES) {
    return { scale: 1, source: 'tag', namedHz: tagHz, uncertaintyRel: REAL_TIME_REL, warnings: [] };
  }
  const plausible = fileHz >= THINNED_BELOW_HZ && fileHz < REAL_TIME_FROM_HZ;
  if (ratio >= STRETCHED_FROM && plausible) return stretched(fileHz, tagHz, 'tag', []);
  if (ratio < 1 && fileHz >= REAL_TIME_FROM_HZ) {
    return {
      scale: 1,
      source: 'timestamps',
      namedHz: fileHz,
      uncertaintyRel: REAL_TIME_REL,
      warnings: [
        `The file's capture-rate tag (${shown(tagHz)} fps) contradicts its timestamps (${shown(fileHz)} fps); the timestamps are used.`,
      ],
    };
  }
  return {
    scale: null,
    reason:
      `The file's capture-rate tag (${shown(tagHz)} fps) contradicts its timestamps (${shown(fileHz)} fps), ` +
      'so its true speed is unknown: state the rate at which it was filmed with --capture-rate.',
    warnings: [],
  };
}

function byTimestamps(fileHz: number): RateDecision {
  const realTime = {
    scale: 1,
    source: 'timestamps',
    namedHz: fileHz,
    uncertaintyRel: REAL_TIME_REL,
  } as const;
  if (fileHz >= REAL_TIME_FROM_HZ) {
    return {
      ...realTime,
      warnings: [
        `No capture-rate tag; the timestamps (${shown(fileHz)} fps) are taken as real time, as no phone stores slow motion above 60 fps.`,
      ],
    };
  }
  if (fileHz >= 45) {
    return {
      ...realTime,
      warnings: [
        `The clip runs at ${shown(fileHz)} fps and is taken as real time; frames are ${(1000 / fileHz).toFixed(1)} ms apart. ` +
          'If it is slow motion, state the true rate with --capture-rate.',
      ],
    };
  }
  return {
    scale: null,
    reason:
      `The clip runs at ${shown(fileHz)} fps and does not say how fast it was filmed, so no milliseconds can be given: ` +
      'state the rate with --capture-rate (for example --capture-rate 240), or give the unmodified original.',
    warnings: [],
  };
}

function stretched(
  fileHz: number,
  captureHz: number,
  source: RateSource,
  before: readonly string[],
): RateDecision {
  const playbackHz = nominalPlaybackHz(fileHz);
  const burst =
    captureHz >= BURST_FROM_HZ
      ? [
          `Phones film ${shown(captureHz)} fps in short bursts, and some make part of the pictures themselves: only presses inside ` +
            'the slow part are right, so trim the clip to it; if the whole clip was filmed slower, state that rate with --capture-rate.',
        ]
      : [];
  const times = (captureHz / (playbackHz ?? fileHz)).toFixed(1).replace(/\.0$/, '');
  return playbackHz === null
    ? {
        scale: fileHz / captureHz,
        source,
        namedHz: captureHz,
        uncertaintyRel: UNUSUAL_REL,
        warnings: [
          ...before,
          `Filmed at ${shown(captureHz)} fps, stored at the unusual rate of ${shown(fileHz)} fps; times are divided by ${times}. If that is not so, state the true rate with --capture-rate.`,
          ...burst,
        ],
      }
    : {
        scale: playbackHz / captureHz,
        source,
        namedHz: captureHz,
        uncertaintyRel: STRETCHED_REL,
        warnings: [
          ...before,
          `Slow motion: filmed at ${shown(captureHz)} fps, stored at ${shown(playbackHz)} fps; times are divided by ${times}.`,
          ...burst,
        ],
      };
}

/**
 * The nominal playback rate behind a measured one. Android stretches by nominal rates, so a sensor that runs a
 * little slow must not be read as 29.97: a fractional rate is taken only where the timestamps hit it.
 */
function nominalPlaybackHz(fileHz: number): number | null {
  const fractional = PLAYBACK_RATES_HZ.slice(WHOLE_PLAYBACK_RATES).find(
    (p) => Math.abs(fileHz / p - 1) < 2e-4,
  );
  if (fractional !== undefined) return fractional;
  const near = PLAYBACK_RATES_HZ.slice(0, WHOLE_PLAYBACK_RATES).filter(
    (p) => Math.abs(fileHz / p - 1) <= 0.015,
  );
  return near[0] ?? null;
}

/** A rate for people: three decimals at most. */
function shown(rateHz: number): string {
  return String(Number(rateHz.toFixed(3)));
}
