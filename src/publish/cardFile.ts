/** A record or a comparison on disk to a card on disk, PNG. */
import { basename, dirname, extname } from 'node:path';
import { UsageError } from '../errors.js';
import { writeWhole } from '../record/files.js';
import { inWritableFolder } from '../record/writableFolder.js';
import { boardCard } from '../report/cards/boardCard.js';
import type { CardShape, CardTheme } from '../report/cards/cardSheet.js';
import { chainCard } from '../report/cards/chainCard.js';
import { screenRegions } from '../report/headline.js';
import { svgToPng } from '../report/pictures/lettering.js';
import { readStored } from './storedRecord.js';

/** What the card looks like. */
export interface CardRequest {
  readonly shape: CardShape;
  readonly theme: CardTheme;
  /** Screen region of a record; default the first with an answer. */
  readonly region?: string;
}

/** What was written. */
export interface CardFile {
  readonly format: 'lagreel-card';
  readonly version: 1;
  readonly file: string;
  /** `chain` of a record, `board` of a comparison. */
  readonly kind: 'chain' | 'board';
  readonly widthPx: number;
  readonly heightPx: number;
}

/**
 * Writes a card: of one chain from a record, of all groups from a comparison.
 * @throws UsageError for another ending than .png, or a region that is not there; AnalysisError `record-invalid`,
 *   `write-failed`.
 */
export async function cardFile(
  inputPath: string,
  outputPath: string,
  request: CardRequest,
): Promise<CardFile> {
  if (extname(outputPath) !== '.png')
    throw new UsageError(`${basename(outputPath)} must end in .png: a card is a PNG picture`);
  const stored = await readStored(inputPath);
  const { shape, theme, region } = request;
  if (region !== undefined && stored.kind === 'comparison')
    throw new UsageError('a board has all its regions on one card: leave --screen out, or give a record');
  if (region !== undefined && stored.kind === 'record' && !screenRegions(stored.record).includes(region)) {
    throw new UsageError(
      `there is no screen region "${region}" in ${basename(inputPath)}: it has ${screenRegions(stored.record).join(', ')}`,
    );
  }
  return inWritableFolder(dirname(outputPath), 'choose another place with -o FOLDER/NAME.png', async () => {
    const card =
      stored.kind === 'record'
        ? await chainCard(stored.record, region, shape, theme)
        : await boardCard(stored.comparison, shape, theme);
    await writeWhole(outputPath, await svgToPng(card.svg, card.background));
    return {
      format: 'lagreel-card',
      version: 1,
      file: basename(outputPath),
      kind: stored.kind === 'record' ? 'chain' : 'board',
      widthPx: card.widthPx,
      heightPx: card.heightPx,
    };
  });
}
