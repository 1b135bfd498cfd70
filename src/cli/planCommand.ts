/** `lagreel plan`: what a number of presses will tell, before they are filmed. */
import { Command } from 'commander';
import { type FilmingPlan, planFilming } from '../node.js';
import { toJsonText } from '../record/files.js';
import { type InspectRow, renderInspect } from '../report/inspectText.js';
import { numberOption, wholeOption } from './options.js';
import type { Terminal } from './terminal.js';

interface PlanCommandOptions {
  readonly captureRate: number;
  readonly refresh: number;
  readonly presses: number;
  readonly exposure: number;
  readonly margin: number;
  readonly want?: number;
  readonly json?: boolean;
}

/** The command. */
export function planCommand(
  terminal: Terminal,
  _signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return new Command('plan')
    .description('Predict how sure a number of presses makes the answer, and how many presses a wish takes.')
    .option('--capture-rate <hz>', 'camera frames a second', numberOption('--capture-rate', 20, 4000), 240)
    .option(
      '--refresh <hz>',
      'refresh rate of the display under test',
      numberOption('--refresh', 1, 1000),
      60,
    )
    .option('--presses <n>', 'presses of one chain', wholeOption('--presses', 1, 1000), 20)
    .option(
      '--exposure <fraction>',
      'shutter open time over capture period',
      numberOption('--exposure', 0.005, 1),
      0.9,
    )
    .option('--margin <ms>', 'two chains within this count as equal', numberOption('--margin', 0.01, 1000), 1)
    .option('--want <ms>', 'wanted width of the 95 % interval', numberOption('--want', 0.01, 1000))
    .option('--json', 'print one JSON document')
    .addHelpText(
      'after',
      `
Examples:
  lagreel plan --capture-rate 240 --refresh 60 --presses 20
  lagreel plan --capture-rate 240 --refresh 60 --exposure 0.5 --want 1 --json`,
    )
    .action((options: PlanCommandOptions) => {
      const plan = planFilming({
        captureRateHz: options.captureRate,
        exposureFraction: options.exposure,
        refreshHz: options.refresh,
        presses: options.presses,
        wantMs: options.want ?? null,
        marginMs: options.margin,
      });
      terminal.out(options.json ? toJsonText(plan) : renderInspect(viewOf(plan), terminal));
      finish(0);
    });
}

/** Lines for people; formatting only. */
function viewOf(plan: FilmingPlan): Parameters<typeof renderInspect>[0] {
  const row = (label: string, value: string, ...notes: string[]): InspectRow => ({ label, value, notes });
  const presses = (n: number | null) => (n === null ? 'more than can be filmed' : `${n} presses`);
  return {
    title: `${plan.presses} presses at ${plan.captureRateHz} camera frames a second, display of ${plan.refreshHz} Hz`,
    sections: [
      {
        title: 'To expect',
        rows: [
          row(
            'One latency',
            `standard uncertainty ${plan.uncertaintyMs.toFixed(2)} ms`,
            `For clear, quick changes and an exposure fraction of ${plan.exposureFraction}; a slow panel or a dim LED adds to it. An unknown row readout or LED delay is not in it.`,
          ),
          row(
            'Fixed delay',
            `95 % interval ${plan.widthMs.toFixed(2)} ms wide`,
            `${plan.twoEdgeWidthMs.toFixed(2)} ms without any measurement error; ${plan.meanWidthMs.toFixed(2)} ms by the mean of the latencies.`,
          ),
          ...(plan.wantMs === null
            ? []
            : [row(`For ${plan.wantMs} ms`, `film ${presses(plan.pressesForWant)}`)]),
        ],
      },
      {
        title: `To show two chains equal within ${plan.marginMs} ms (chance ${100 * plan.power} % where they are)`,
        rows: [
          row(
            'One by one',
            `${presses(plan.pressesFixedDelays)} of each chain, compared by their fixed delays`,
            `By the means of all presses: ${presses(plan.pressesUnpaired)} of each.`,
          ),
          row('Side by side', `${presses(plan.pressesPaired)} with both screens in one picture`),
        ],
      },
    ],
  };
}
