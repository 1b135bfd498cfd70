/** The table at the end of a folder's measurement. */
import type { ClipRecord } from '../record/record.js';
import { fittingTable, withoutConstant } from './fittingTable.js';
import { fixed } from './numberText.js';
import { plainText } from './plainText.js';
import { paint, type TerminalOptions } from './terminal.js';

/** One line a clip and screen region. Pure. */
export function renderSession(records: readonly ClipRecord[], options: TerminalOptions): string {
  const rows = records.flatMap((record) => {
    const labels = shortened(Object.values(record.recipe.labels).join(', '));
    const regions = Object.entries(record.summary);
    const common = [plainText(record.clip.file), plainText(labels)];
    if (regions.length === 0) return [[...common, '', '0', 'none', '', record.fitness.class]];
    return regions.map(([region, s]) => {
      const fit = s.waitModel;
      return [
        ...common,
        plainText(region),
        String(s.n),
        fit
          ? `${fixed(fit.fixedDelayMs, 1)} (${fixed(fit.intervalMs[0], 1)} to ${fixed(fit.intervalMs[1], 1)})`
          : 'none',
        fit ? fit.lag : '',
        record.fitness.class,
      ];
    });
  });
  const header = ['clip', 'labels', 'region', 'presses', 'fixed delay, ms', 'lag', 'fitness'];
  const title = paint(
    `${records.length} ${records.length === 1 ? 'clip' : 'clips'} measured`,
    'strong',
    options.colour,
  );
  return `${[title, ...fittingTable(withoutConstant([header, ...rows], 2), options.width, 2)].map((line) => line.trimEnd()).join('\n')}\n`;
}

/** Labels can be long; the record holds them whole. */
const LABEL_COLUMNS = 28;

function shortened(text: string): string {
  const characters = [...text];
  return characters.length <= LABEL_COLUMNS ? text : `${characters.slice(0, LABEL_COLUMNS - 1).join('')}…`;
}
