/** The camera file: what `calibrate` found about a camera in one of its modes, for `measure --camera`. */
import * as z from 'zod';
import type { Calibration } from '../calibrate/calibrateClip.js';
import type { ClipFacts } from '../clip/frameSource.js';
import { AnalysisError } from '../errors.js';
import { schemaFault } from './schemaFault.js';

const finite = z.number();
const interval = z
  .tuple([finite, finite])
  .refine(([from, to]) => from <= to, 'must not end before it begins');
const size = z.number().int().min(2).max(65_535);
const rate = z.number().positive().max(100_000);

/** The schema of a camera file. */
export const cameraSchema = z.strictObject({
  format: z.literal('lagreel-camera'),
  version: z.literal(1),
  coded: z.strictObject({ width: size, height: size }),
  captureRateHz: rate,
  captureRateIntervalHz: interval,
  readoutMs: z.number().min(-100).max(100),
  readoutUncertaintyMs: z.number().min(0).max(100),
  readoutFraction: z.number().min(-1.5).max(1.5),
  readoutFractionInterval: interval,
  exposureFraction: z.number().gt(0).max(1).nullable(),
  measured: z.strictObject({
    clip: z.strictObject({ file: z.string(), sha256: z.string() }),
    lightHz: rate,
    lightUncertaintyRel: z.number().min(0).max(1),
    frames: z.number().int().min(1),
    codedRect: z.strictObject({ x: finite, y: finite, width: finite, height: finite }),
    modulation: z.number().min(0),
    bandsPerPicture: finite,
    cyclesPerFrame: z.number().positive(),
    ratesHz: z.strictObject({
      timestamps: z.number().positive(),
      tag: rate.nullable(),
      stated: rate.nullable(),
      light: rate,
    }),
  }),
  warnings: z.array(z.string()),
});

/** The camera file. It holds for one mode: another coded size or capture rate is read out in another time. */
export interface CameraCalibration {
  readonly format: 'lagreel-camera';
  readonly version: 1;
  /** Coded picture, px, before rotation. */
  readonly coded: { readonly width: number; readonly height: number };
  /** True rate while filming, by the light, Hz, with its 95 % interval. */
  readonly captureRateHz: number;
  readonly captureRateIntervalHz: readonly [number, number];
  /** Start of exposure of the first coded row to past the last, ms; negative where rows are read upwards. */
  readonly readoutMs: number;
  /** Standard uncertainty (k = 1), ms. */
  readonly readoutUncertaintyMs: number;
  /** `readoutMs` over the capture period of `captureRateHz`, with its 95 % interval. */
  readonly readoutFraction: number;
  readonly readoutFractionInterval: readonly [number, number];
  /** Shutter open time over capture period; null: a light of unknown waveform does not show it. */
  readonly exposureFraction: number | null;
  /** How it was measured. */
  readonly measured: {
    readonly clip: { readonly file: string; readonly sha256: string };
    readonly lightHz: number;
    /** Relative standard uncertainty of the light's own frequency. */
    readonly lightUncertaintyRel: number;
    readonly frames: number;
    /** Where the light was read, coded px. */
    readonly codedRect: Calibration['codedRect'];
    /** Relative amplitude of the flicker in the rows. */
    readonly modulation: number;
    /** Cycles of the light during one readout, and during one capture period. */
    readonly bandsPerPicture: number;
    readonly cyclesPerFrame: number;
    /** Every rate that was at hand, Hz; `light` is the one used. */
    readonly ratesHz: {
      readonly timestamps: number;
      readonly tag: number | null;
      readonly stated: number | null;
      readonly light: number;
    };
  };
  readonly warnings: readonly string[];
}

/** Numbers to six digits or a step well below any uncertainty, so that the file is the same on every machine. */
function rounded(value: number, digits: number): number {
  return Number(value.toPrecision(digits));
}

/** The camera file of a calibration. */
export function cameraOf(
  calibration: Calibration,
  facts: Pick<ClipFacts, 'file' | 'sha256' | 'codedWidth' | 'codedHeight'>,
): CameraCalibration {
  const { captureRateHz, readoutMs, readoutFraction, rates } = calibration;
  const both = ([from, to]: readonly [number, number]) => [rounded(from, 9), rounded(to, 9)] as const;
  return {
    format: 'lagreel-camera',
    version: 1,
    coded: { width: facts.codedWidth, height: facts.codedHeight },
    captureRateHz: rounded(captureRateHz.value, 9),
    captureRateIntervalHz: both(captureRateHz.interval),
    readoutMs: rounded(readoutMs.value, 6),
    readoutUncertaintyMs: rounded(readoutMs.sd, 3),
    readoutFraction: rounded(readoutFraction.value, 6),
    readoutFractionInterval: both(readoutFraction.interval),
    exposureFraction: null,
    measured: {
      clip: { file: facts.file, sha256: facts.sha256 },
      lightHz: calibration.lightHz,
      lightUncertaintyRel: rounded(calibration.lightUncertaintyRel, 4),
      frames: calibration.frames,
      codedRect: calibration.codedRect,
      modulation: rounded(calibration.modulation, 4),
      bandsPerPicture: rounded(calibration.bandsPerPicture, 6),
      cyclesPerFrame: rounded(calibration.cyclesPerFrame, 9),
      ratesHz: {
        timestamps: rounded(rates.timestampsHz, 9),
        tag: rates.tagHz,
        stated: rates.statedHz,
        light: rounded(rates.lightHz, 9),
      },
    },
    warnings: calibration.warnings,
  };
}

/**
 * Parses the text of a camera file.
 * @param file name for the message
 * @throws AnalysisError `recipe-invalid` with one sentence: where the fault is and what is expected there
 */
export function parseCamera(text: string, file: string): CameraCalibration {
  const refuse = (why: string) =>
    new AnalysisError('recipe-invalid', `${file} ${why}; make a new one with lagreel calibrate`);
  let json: unknown;
  try {
    json = JSON.parse(text.replace(/^\ufeff/, ''));
  } catch (cause) {
    throw refuse(`is not a camera file: it is not valid JSON (${String((cause as Error).message)})`);
  }
  const { format, version } = (json ?? {}) as { readonly format?: unknown; readonly version?: unknown };
  if (format !== 'lagreel-camera') throw refuse('is not a camera file: its "format" is not "lagreel-camera"');
  if (typeof version === 'number' && version > 1) {
    throw refuse(`has camera version ${version}, and this lagreel reads version 1`);
  }
  const result = cameraSchema.safeParse(json);
  if (result.success) return result.data;
  throw refuse(`is not a valid camera file: ${schemaFault(result.error)}`);
}
