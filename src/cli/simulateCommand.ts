/** `lagreel simulate`: a clip whose answer is known, to try lagreel (or anything else) on. */
import { basename, dirname } from 'node:path';
import { Command, Option } from 'commander';
import { simulateFile } from '../node.js';
import { toJsonText } from '../record/files.js';
import { randomScene } from '../simulate/randomScene.js';
import type { DisplayKind, JitterLaw, SceneContent } from '../simulate/scene.js';
import { numberOption, outputOption, sizeOption } from './options.js';
import { progressLine, type Terminal } from './terminal.js';

const CONTENTS = ['flash', 'toggle', 'patch', 'sprite', 'darken', 'low-contrast'] as const;
const DISPLAYS = ['panel', 'oled', 'tube', 'strobed', 'pwm'] as const;

interface SimulateCommandOptions {
  readonly output: string;
  readonly presses: number;
  readonly fixedDelay: number;
  readonly jitterMs?: number;
  readonly jitterFrames?: number;
  readonly captureRate: number;
  readonly exposure: number;
  readonly readout: number;
  readonly refresh: number;
  readonly display: DisplayKind['kind'];
  readonly size: readonly [number, number];
  readonly rotate: string;
  readonly storedRate?: number;
  readonly tag: boolean;
  readonly seed: number;
  readonly crf: number;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** The command. */
export function simulateCommand(
  terminal: Terminal,
  signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return new Command('simulate')
    .description('Make a clip of a filmed latency test with exactly known truth (NAME.truth.json beside it).')
    .addArgument(
      new Command().createArgument('<scene>', 'what the screen does on a press').choices([...CONTENTS]),
    )
    .requiredOption('-o, --output <file>', 'the clip to write, NAME.mp4', outputOption)
    .option('--presses <n>', 'number of presses', numberOption('--presses', 1, 2000), 20)
    .option('--fixed-delay <ms>', "the chain's own delay", numberOption('--fixed-delay', 0, 1000), 52)
    .option('--jitter-ms <ms>', 'normal jitter of the chain (sd)', numberOption('--jitter-ms', 0, 100))
    .option(
      '--jitter-frames <n>',
      'jitter uniform over so many display frames',
      numberOption('--jitter-frames', 0, 10),
    )
    .option('--capture-rate <hz>', 'camera frames a second', numberOption('--capture-rate', 20, 2000), 240)
    .option('--exposure <fraction>', 'exposure fraction', numberOption('--exposure', 0.01, 1), 0.95)
    .option('--readout <fraction>', 'readout fraction', numberOption('--readout', 0, 1), 0.7)
    .option('--refresh <hz>', 'refresh rate of the display', numberOption('--refresh', 20, 360), 60)
    .addOption(new Option('--display <kind>', 'kind of display').choices([...DISPLAYS]).default('panel'))
    .option('--size <WxH>', 'upright picture, even px', sizeOption, [480, 270] as const)
    .addOption(new Option('--rotate <deg>', 'rotation tag').choices(['0', '90', '180', '270']).default('0'))
    .option(
      '--stored-rate <hz>',
      'rate at which the file plays (slow motion)',
      numberOption('--stored-rate', 10, 2000),
    )
    .option('--no-tag', 'leave the capture-rate tag out of a slow-motion file')
    .option('--seed <n>', 'seed of everything random', numberOption('--seed', 0, 2 ** 31), 1)
    .option('--crf <n>', 'quality of the H.264 encoding, 0 is lossless', numberOption('--crf', 0, 51), 20)
    .option('--json', 'print the truth as one JSON document')
    .option('--quiet', 'no progress and no summary')
    .addHelpText(
      'after',
      `
Examples:
  lagreel simulate flash --presses 20 --fixed-delay 52 --capture-rate 240 -o demo.mp4
  lagreel simulate sprite --jitter-frames 2 --display tube --stored-rate 30 -o tube.mp4

The clip flashes when played at full speed: keep the usual care for photosensitive viewers.`,
    )
    .action(async (content: SceneContent['kind'], options: SimulateCommandOptions) => {
      const scene = sceneOf(content, options);
      const progress = progressLine(terminal, { quiet: options.quiet ?? false, file: options.output });
      const { clipPath, truthPath, truth } = await simulateFile(scene, dirname(options.output), {
        crf: options.crf,
        signal,
        onProgress: (done) => progress.update('simulating', done, scene.camera.frames),
      }).finally(() => progress.clear());
      if (options.json) terminal.out(toJsonText(truth));
      else if (!options.quiet) terminal.out(`Clip: ${clipPath}\nTruth: ${truthPath}\n`);
      finish(0);
    });
}

/** Options to a scene; the library checks the values. */
function sceneOf(content: SceneContent['kind'], o: SimulateCommandOptions): ReturnType<typeof randomScene> {
  const [widthPx, heightPx] = o.size;
  const scene = randomScene(o.seed, {
    widthPx,
    heightPx,
    rotationDeg: [Number(o.rotate) as 0 | 90 | 180 | 270],
    captureRateHz: [o.captureRate],
    exposureFraction: [o.exposure, o.exposure],
    readoutFraction: [o.readout, o.readout],
    refreshHz: [o.refresh],
    display: [o.display],
    content: [content],
    presses: o.presses,
    fixedDelayMs: [o.fixedDelay, o.fixedDelay],
    jitter: [jitterOf(o)],
  });
  const name = basename(o.output).replace(/\.mp4$/, '');
  return {
    ...scene,
    name,
    camera: {
      ...scene.camera,
      storedRateHz: o.storedRate ?? null,
      captureTag: o.storedRate !== undefined && o.tag,
    },
  };
}

function jitterOf(o: SimulateCommandOptions): JitterLaw {
  if (o.jitterFrames) return { kind: 'uniform', displayFrames: o.jitterFrames };
  if (o.jitterMs) return { kind: 'gaussian', sdMs: o.jitterMs };
  return { kind: 'none' };
}
