/** `lagreel calibrate`: what a flickering light tells about a camera, into a camera file. */
import { Command } from 'commander';
import { calibrateFile } from '../node.js';
import type { CameraCalibration } from '../record/camera.js';
import { toJsonText } from '../record/files.js';
import type { Region } from '../region/region.js';
import { type InspectRow, renderInspect } from '../report/inspectText.js';
import { cameraFileOption, numberOption, oneReferenceOption } from './options.js';
import { describeError, isExpected, progressLine, type Terminal } from './terminal.js';

interface CalibrateCommandOptions {
  readonly light: number;
  readonly lightUncertainty?: number;
  readonly region?: Region;
  readonly captureRate?: number;
  readonly output: string;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** The command. */
export function calibrateCommand(
  terminal: Terminal,
  signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return new Command('calibrate')
    .description("Measure a camera's row readout and true capture rate by a flickering light.")
    .argument('<clip>', 'a few seconds of the light, filling the picture, in the mode used for measuring')
    .requiredOption(
      '--light <hz>',
      'frequency of the light: an LED of about 1000, or mains lamps (100 or 120)',
      numberOption('--light', 1, 20_000),
    )
    .option(
      '--light-uncertainty <ppm>',
      'its standard uncertainty (default: 50, a crystal; mains: 577)',
      numberOption('--light-uncertainty', 0, 100_000),
    )
    .option(
      '--region <name=reference:x,y,w,h>',
      'where the light is, px of the upright picture (default: a strip through the middle)',
      oneReferenceOption,
    )
    .option('--capture-rate <hz>', 'true rate while filming', numberOption('--capture-rate', 20, 4000))
    .requiredOption('-o, --output <file>', 'the camera file to write, NAME.json', cameraFileOption)
    .option('--json', 'print the camera file as one JSON document')
    .option('--quiet', 'no progress and no summary')
    .addHelpText(
      'after',
      `
Examples:
  lagreel calibrate led-1khz.mp4 --light 1000 -o camera.json
  lagreel calibrate lamp.mp4 --light 100 --region lamp=reference:200,0,160,540 -o camera.json`,
    )
    .action(async (clip: string, options: CalibrateCommandOptions) => {
      const progress = progressLine(terminal, { quiet: options.quiet ?? false, file: clip });
      let camera: CameraCalibration;
      try {
        camera = await calibrateFile(
          clip,
          options.output,
          {
            lightHz: options.light,
            ...(options.lightUncertainty !== undefined
              ? { lightUncertaintyRel: options.lightUncertainty * 1e-6 }
              : {}),
            ...(options.region ? { region: options.region } : {}),
            captureRateHz: options.captureRate ?? null,
          },
          { signal, onProgress: (done) => progress.update('reading rows', done, null) },
        ).finally(() => progress.clear());
      } catch (error) {
        if (signal.aborted || !isExpected(error)) throw error;
        const { text, exitCode } = describeError(error, clip);
        terminal.err(`lagreel: ${text}\n`);
        return finish(exitCode);
      }
      if (options.json) terminal.out(toJsonText(camera));
      else if (!options.quiet) terminal.out(renderInspect(viewOf(camera, options.output), terminal));
      finish(0);
    });
}

/** Lines for people; formatting only. */
function viewOf(camera: CameraCalibration, path: string): Parameters<typeof renderInspect>[0] {
  const { measured } = camera;
  const row = (label: string, value: string, ...notes: string[]): InspectRow => ({ label, value, notes });
  const range = ([from, to]: readonly [number, number], decimals: number) =>
    `${from.toFixed(decimals)} to ${to.toFixed(decimals)}`;
  const hz = (rateHz: number | null) => (rateHz === null ? 'none' : `${rateHz.toFixed(3)} Hz`);
  return {
    title: `${measured.clip.file}: camera calibrated by ${measured.lightHz} Hz`,
    sections: [
      {
        title: 'Camera',
        rows: [
          row(
            'Row readout',
            `${camera.readoutMs.toFixed(3)} ms, ${camera.readoutFraction.toFixed(4)} of a camera frame`,
            `95 % interval ${range(camera.readoutFractionInterval, 4)} of a camera frame`,
          ),
          row(
            'Capture rate',
            hz(camera.captureRateHz),
            `95 % interval ${range(camera.captureRateIntervalHz, 3)} Hz`,
          ),
          row('Holds for', `${camera.coded.width} x ${camera.coded.height} coded px at this rate`),
          row(
            'Rates at hand',
            `light ${hz(measured.ratesHz.light)}, timestamps ${hz(measured.ratesHz.timestamps)}, tag ${hz(measured.ratesHz.tag)}, stated ${hz(measured.ratesHz.stated)}`,
          ),
          row(
            'Seen in',
            `${measured.frames} camera frames, ${measured.bandsPerPicture.toFixed(2)} bands a picture, flicker of ${(100 * measured.modulation).toFixed(1)} % in the rows`,
          ),
          ...(camera.warnings.length > 0
            ? [row('Warnings', String(camera.warnings.length), ...camera.warnings)]
            : []),
          row('Written', path, `use it: lagreel measure CLIP --camera ${path}`),
        ],
      },
    ],
  };
}
