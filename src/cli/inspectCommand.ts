/** `lagreel inspect`: is this clip fit to measure? */
import { Command } from 'commander';
import { type Inspection, inspectFile } from '../node.js';
import { toJsonText } from '../record/files.js';
import { evidenceText } from '../report/evidenceText.js';
import { type InspectRow, renderInspect } from '../report/inspectText.js';
import { addClipOptions, type ClipOptions, overlayOptions, recipePathOf } from './options.js';
import { describeError, isExpected, progressLine, type Terminal } from './terminal.js';

interface InspectCommandOptions extends ClipOptions {
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** The command. */
export function inspectCommand(
  terminal: Terminal,
  signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return addClipOptions(
    new Command('inspect')
      .description('Show what a clip is, how its time is known, and whether it is fit to measure.')
      .argument('<clip>', 'a clip from the camera'),
  )
    .option('--json', 'print one JSON document')
    .option('--quiet', 'no progress')
    .addHelpText(
      'after',
      `
Examples:
  lagreel inspect clip.mp4
  lagreel inspect export.mp4 --capture-rate 240 --json`,
    )
    .action(async (clip: string, options: InspectCommandOptions) => {
      const progress = progressLine(terminal, { quiet: options.quiet ?? false, file: clip });
      const job = inspectFile(clip, {
        ...recipePathOf(options),
        adjustRecipe: (recipe) => overlayOptions(recipe, options),
        signal,
        onProgress: ({ stage, framesDone, framesTotal }) => progress.update(stage, framesDone, framesTotal),
      }).finally(() => progress.clear());
      let inspection: Inspection;
      try {
        inspection = await job;
      } catch (error) {
        if (signal.aborted || !isExpected(error)) throw error;
        const { text, exitCode } = describeError(error, clip);
        terminal.err(`lagreel: ${text}\n`);
        return finish(exitCode);
      }
      if (options.json) terminal.out(toJsonText(inspection));
      else terminal.out(renderInspect(inspectView(inspection), terminal));
      finish(0);
    });
}

/** What `inspect` prints, as lines for people; formatting only, every number comes from the inspection. */
export function inspectView(i: Inspection): Parameters<typeof renderInspect>[0] {
  const { clip, timing } = i;
  // What stands among the remarks is not said twice.
  const said = new Set(i.remarks.map(({ text }) => text));
  const warnings = i.warnings.filter((text) => !said.has(text));
  const row = (label: string, value: string, ...notes: string[]): InspectRow => ({ label, value, notes });
  const turn = clip.orientation.rotationDeg === 0 ? 'none' : `${clip.orientation.rotationDeg}° clockwise`;
  const light = Object.entries(i.fitness.evidence ?? {}).map(([name, e]) => row(name, evidenceText(e)));
  return {
    title: `${clip.file}: ${i.fitness.class}`,
    sections: [
      {
        title: 'Fitness',
        rows: [
          row('Class', i.fitness.class, ...i.fitness.reasons.map((r) => r.text)),
          row('Presses seen', String(i.presses)),
          row(
            'Regions',
            i.regions.length === 0 ? 'none' : i.regions.map((r) => `${r.name} (${r.role})`).join(', '),
            ...i.regions.map((r) => `--region ${r.name}=${r.role}:${r.x},${r.y},${r.width},${r.height}`),
          ),
          ...(warnings.length > 0 ? [row('Warnings', String(warnings.length), ...warnings)] : []),
        ],
      },
      ...(light.length > 0 ? [{ title: 'Light of the regions', rows: light }] : []),
      {
        title: 'About this file',
        rows: i.remarks.map(({ code, text }) => row(code, text)),
      },
      {
        title: 'Time',
        rows: timing
          ? [
              row('Capture rate', `${timing.captureRateHz.toFixed(3)} Hz`, `known from: ${timing.source}`),
              row('Plays at', i.mediaRateHz === null ? 'not said' : `${i.mediaRateHz.toFixed(3)} Hz`),
              row('Frames', `${i.frames}, ${timing.droppedFrames} missing, ${timing.doubledFrames} doubled`),
              row(
                'Timestamps',
                `${timing.timeBase[0]}/${timing.timeBase[1]} s, uneven by ${timing.irregularityMs.toFixed(3)} ms rms`,
              ),
              row(
                'Exposure fraction',
                timing.exposureFraction === null ? 'not measured' : timing.exposureFraction.toFixed(2),
                timing.exposureSource,
              ),
            ]
          : [
              row('Capture rate', 'not known'),
              row('Plays at', i.mediaRateHz === null ? 'not said' : `${i.mediaRateHz.toFixed(3)} Hz`),
              row('Frames', String(i.frames)),
            ],
      },
      {
        title: 'Picture',
        rows: [
          row('Coded', `${clip.codedWidth} x ${clip.codedHeight} px, ${clip.codec}, ${clip.pixelFormat}`),
          row('Rotation', turn, ...(clip.orientation.mirrored ? ['mirrored'] : [])),
          row('Range', clip.range, ...(clip.rangeTagged ? [] : ['assumed: the file does not say'])),
          row('Transfer', clip.transfer, ...(clip.transferTagged ? [] : ['assumed: the file does not say'])),
        ],
      },
      {
        title: 'File',
        rows: [
          row('Container', clip.container),
          row('Bytes', String(clip.bytes)),
          row('SHA-256', clip.sha256),
          row('Read by', clip.decoder),
        ],
      },
    ],
  };
}
