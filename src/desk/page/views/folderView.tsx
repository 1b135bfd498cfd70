/** The folder: every clip with its picture, its answer and its worries. */
import { useEffect, useState } from 'preact/hooks';
import { bytesText } from '../../../report/numberText.js';
import type { ClipCard, FolderAnswer } from '../../protocol.js';
import { fragmentOf } from '../logic/route.js';
import { BlobPicture } from '../parts/blobPicture.js';
import { Fault, Heading } from '../parts/deskFrame.js';
import { type DeskApi, sentenceOf } from '../session/api.js';

function Card({ api, card }: { api: DeskApi; card: ClipCard }) {
  const { presses, headline, warnings } = card;
  const kind = card.fitness === 'fit' ? 'fit' : card.fitness === 'unfit' ? 'unfit' : 'care';
  return (
    <li class="card">
      <a href={fragmentOf({ view: 'clip', clip: card.id, press: null })}>
        <BlobPicture load={() => api.thumbnail(card.id)} alt="" missing="No picture" class="thumbnail" />
        <div class="card-words">
          <h2>{card.name}</h2>
          {headline ? (
            <p class="card-answer">
              <b>{headline.value}</b>
              <span>
                {headline.label}, {headline.region}
              </span>
            </p>
          ) : (
            <p class="card-answer none">{card.record ? 'Nothing could be measured' : 'Not measured yet'}</p>
          )}
          <ul class="chips">
            {card.fitness && <li class={kind}>{card.fitness}</li>}
            {card.outdated && <li class="care">older than its recipe</li>}
            {Object.entries(card.labels).map(([name, value]) => (
              <li key={name}>
                {name}: {value}
              </li>
            ))}
          </ul>
          <p class="muted small">
            {presses
              ? `${presses.measured} measured, ${presses.noResponse + presses.ambiguous} doubtful, ${presses.excluded} excluded · `
              : ''}
            {bytesText(card.bytes)}
          </p>
        </div>
      </a>
      {warnings.length > 0 && (
        <details>
          <summary>{warnings.length === 1 ? '1 warning' : `${warnings.length} warnings`}</summary>
          <ul class="worries">
            {warnings.map((warning) => (
              <li key={warning} class="care">
                {warning}
              </li>
            ))}
          </ul>
        </details>
      )}
    </li>
  );
}

/** See the head of this file. */
export function FolderView({ api }: { api: DeskApi }) {
  const [folder, setFolder] = useState<FolderAnswer | null>(null);
  const [fault, setFault] = useState<string | null>(null);
  useEffect(() => {
    api.folder().then(setFolder, (error) => setFault(sentenceOf(error)));
  }, [api]);
  const measured = folder?.clips.filter((c) => c.record).length ?? 0;
  return (
    <>
      <div class="row folder-head">
        <Heading>{folder ? folder.folder : 'Clips'}</Heading>
        {folder && (
          <span class="muted">
            {folder.clips.length === 1 ? '1 clip' : `${folder.clips.length} clips`}, {measured} measured
          </span>
        )}
        <span class="spring" />
        {measured >= 2 && (
          <a class="button" href="#/compare">
            Compare
          </a>
        )}
      </div>
      {fault && <Fault>{fault}</Fault>}
      {folder?.clips.length === 0 && <p class="empty">There is no clip in this folder.</p>}
      <ul class="cards">
        {folder?.clips.map((card) => (
          <Card key={card.id} api={api} card={card} />
        ))}
      </ul>
      {folder && folder.left.length > 0 && (
        <section aria-label="Left out">
          <h2>Left out</h2>
          <ul>
            {folder.left.map(({ name, reason }) => (
              <li key={name}>
                <b>{name}</b>: {reason}
              </li>
            ))}
          </ul>
        </section>
      )}
    </>
  );
}
