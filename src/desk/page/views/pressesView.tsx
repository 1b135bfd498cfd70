/** One press after the other: the pictures it was read from, its traces, its latency, and a person's judgement. */
import { useMemo, useRef, useState } from 'preact/hooks';
import type { Decision } from '../../../record/recipe.js';
import type { PressRecord, ResponseRecord } from '../../../record/record.js';
import { screenRegions } from '../../../report/headline.js';
import { fixed, withUncertainty } from '../../../report/numberText.js';
import {
  deciding,
  decisionsOn,
  nextDoubtful,
  standingOf,
  USUAL_REASONS,
  USUAL_REASONS_BACK,
} from '../logic/decisions.js';
import { fragmentOf } from '../logic/route.js';
import { onsetsOf } from '../logic/stepping.js';
import { BlobPicture } from '../parts/blobPicture.js';
import { DeskFrame } from '../parts/deskFrame.js';
import { MeasureBar } from '../parts/measureBar.js';
import { ScrollBox } from '../parts/scrollBox.js';
import { traceLinesOf } from '../parts/tracePile.js';
import { TracePlots } from '../parts/tracePlot.js';
import type { DeskApi } from '../session/api.js';
import type { ClipSession } from '../session/clipSession.js';

const SIGNS: Readonly<Record<string, readonly [string, string]>> = {
  measured: ['●', 'measured'],
  'no-response': ['○', 'no response'],
  ambiguous: ['◇', 'ambiguous'],
  excluded: ['×', 'excluded'],
  restored: ['…', 'restored, not measured yet'],
};

function Standing({ status }: { status: string }) {
  const [sign, words] = SIGNS[status] ?? ['?', status];
  return (
    <span class={`status ${status}`}>
      <span aria-hidden="true">{sign}</span> {words}
    </span>
  );
}

const latencyOf = (response: ResponseRecord | undefined): string =>
  response?.latencyMs === undefined
    ? ''
    : response.uncertaintyMs === undefined
      ? `${fixed(response.latencyMs, 1)} ms`
      : withUncertainty(response.latencyMs, response.uncertaintyMs);

/** See the head of this file. */
export function PressesView({
  api,
  session,
  press: asked,
  onFrameAt,
}: {
  api: DeskApi;
  session: ClipSession;
  press: number | null;
  onFrameAt: (atS: number) => void;
}) {
  const { record, clip } = session.state;
  const chosen = record?.presses.find((p) => p.index === asked) ?? record?.presses[0] ?? null;
  const list = useRef<HTMLTableSectionElement>(null);
  if (record === null || chosen === null) {
    return (
      <DeskFrame session={session} here="presses">
        <p class="empty">
          {record === null
            ? 'Measure the clip first; then its presses stand here.'
            : 'No press was seen in this clip.'}
        </p>
        <MeasureBar session={session} />
      </DeskFrame>
    );
  }
  const regions = screenRegions(record);
  const go = (index: number): void => {
    location.hash = fragmentOf({ view: 'presses', clip: clip.id, press: index });
  };
  const walk = (event: KeyboardEvent, at: number): void => {
    const by = event.key === 'ArrowDown' ? 1 : event.key === 'ArrowUp' ? -1 : 0;
    const next = record.presses[at + by];
    if (by === 0 || !next) return;
    event.preventDefault();
    go(next.index);
    list.current?.querySelector<HTMLElement>(`[data-press="${next.index}"]`)?.focus();
  };
  const doubtful = nextDoubtful(record, chosen.index);
  return (
    <DeskFrame session={session} here="presses">
      <div class="press-bench">
        <section aria-label="List of presses" class="press-list">
          <div class="row tools">
            <MeasureBar session={session} />
            {doubtful !== null && (
              <button type="button" onClick={() => go(doubtful)}>
                Next doubtful
              </button>
            )}
          </div>
          <ScrollBox label="Table of presses">
            <table>
              <thead>
                <tr>
                  <th scope="col">press</th>
                  <th scope="col" class="number at">
                    at, s
                  </th>
                  {regions.map((region) => (
                    <th key={region} scope="col" class="number">
                      {region}
                    </th>
                  ))}
                  <th scope="col">status</th>
                </tr>
              </thead>
              <tbody ref={list}>
                {record.presses.map((press, at) => {
                  const { status, reason } = standingOf(session.recipe, press);
                  const flags = press.flags.length + press.responses.reduce((n, r) => n + r.flags.length, 0);
                  return (
                    <tr key={press.index} class={`${press === chosen ? 'chosen ' : ''}${status}`}>
                      <th scope="row">
                        <button
                          type="button"
                          class="press-name"
                          data-press={press.index}
                          aria-current={press === chosen ? 'true' : undefined}
                          onClick={() => go(press.index)}
                          onKeyDown={(event) => walk(event, at)}
                        >
                          Press {press.index}
                        </button>
                      </th>
                      <td class="number at">{fixed(press.ledOnsetS, 4)}</td>
                      {regions.map((region) => (
                        <td key={region} class="number latency">
                          {latencyOf(press.responses.find((r) => r.region === region)) || '–'}
                        </td>
                      ))}
                      <td>
                        <Standing status={status} />
                        {reason && <span class="reason">{reason}</span>}
                        {flags > 0 && (
                          <span class="flags-sign">{flags === 1 ? '1 flag' : `${flags} flags`}</span>
                        )}
                      </td>
                    </tr>
                  );
                })}
              </tbody>
            </table>
          </ScrollBox>
        </section>
        <PressSheet
          key={chosen.index}
          api={api}
          session={session}
          press={chosen}
          regions={regions}
          onFrameAt={onFrameAt}
        />
      </div>
    </DeskFrame>
  );
}

function PressSheet({
  api,
  session,
  press,
  regions,
  onFrameAt,
}: {
  api: DeskApi;
  session: ClipSession;
  press: PressRecord;
  regions: readonly string[];
  onFrameAt: (atS: number) => void;
}) {
  const { record, traces, clip } = session.state;
  const lines = useMemo(() => traceLinesOf(traces), [traces]);
  const marks = useMemo(() => onsetsOf(record), [record]);
  const { status, reason } = standingOf(session.recipe, press);
  const answers = press.responses.flatMap((r) => r.settledS ?? r.onsetS ?? []);
  const endS = Math.max(press.ledOnsetS + 0.12, ...answers.map((s) => s + 0.03));
  const windowS = [press.ledOnsetS - 0.04, endS] as const;
  const flags = [...press.flags, ...press.responses.flatMap((r) => r.flags)];
  return (
    <section class="press-sheet" aria-label={`Press ${press.index}`}>
      <div class="row">
        <h2>Press {press.index}</h2>
        <Standing status={status} />
        <span class="spring" />
        <button type="button" onClick={() => onFrameAt(press.ledOnsetS)}>
          Show its frame
        </button>
      </div>
      <dl class="answers-of-press">
        <div>
          <dt>pressed at</dt>
          <dd>
            <b>{fixed(press.ledOnsetS, 4)} s</b> <span>± {fixed(2 * press.ledOnsetUncertaintyMs, 2)} ms</span>
          </dd>
        </div>
        {press.responses.map((response) => (
          <div key={response.region}>
            <dt>{response.region}</dt>
            <dd>
              <b>{latencyOf(response) || (SIGNS[response.status]?.[1] ?? response.status)}</b>
              {response.intervalMs && (
                <span>
                  {' '}
                  95 %: {fixed(response.intervalMs[0], 1)} to {fixed(response.intervalMs[1], 1)} ms
                </span>
              )}
            </dd>
          </div>
        ))}
      </dl>
      {flags.length > 0 && (
        <p>
          {flags.map((flag) => (
            <span key={flag} class="flag">
              {flag}
            </span>
          ))}
        </p>
      )}
      <Judgement session={session} press={press} reason={reason} />
      {regions.map((region) => (
        <ScrollBox
          key={`${region} ${record?.presses.length} ${press.ledOnsetS}`}
          label={`Pictures of press ${press.index}, ${region}`}
        >
          <BlobPicture
            load={() => api.strip(clip.id, press.index, region)}
            alt={`Pictures of the LED and of ${region} around press ${press.index}, frame by frame`}
            missing="No pictures of this press; measure again to see them."
            class="strip"
          />
        </ScrollBox>
      ))}
      {lines.length > 0 && (
        <section class="traces" aria-label={`Traces around press ${press.index}`}>
          <TracePlots
            lines={lines}
            marks={marks}
            windowS={windowS}
            atS={null}
            heightPx={90}
            lastHeightPx={120}
            onTime={onFrameAt}
          />
        </section>
      )}
    </section>
  );
}

function Judgement({
  session,
  press,
  reason,
}: {
  session: ClipSession;
  press: PressRecord;
  reason: string | null;
}) {
  const decisions = decisionsOn(session.recipe, press.ledOnsetS);
  const isExcluded = decisions.at(-1)?.decision === 'exclude';
  const [text, setText] = useState('');
  const [asked, setAsked] = useState(false);
  const decide = (decision: Decision['decision']): void => {
    const given = text.trim();
    setAsked(given === '');
    if (given === '') return;
    const what = decision === 'exclude' ? 'is excluded' : 'counts again';
    session.edit(
      deciding(session.recipe, press.ledOnsetS, decision, given),
      `Press ${press.index} ${what}: ${given}.`,
    );
    setText('');
  };
  const submit = (event: Event): void => {
    event.preventDefault();
    decide(isExcluded ? 'restore' : 'exclude');
  };
  return (
    <form class="judgement" onSubmit={submit}>
      {decisions.length > 0 ? (
        <ol class="decisions" aria-label={`Decisions on press ${press.index}`}>
          {decisions.map(({ decision, reason: why }, i) => (
            <li key={`${i} ${decision} ${why}`}>
              {decision === 'exclude' ? 'Excluded' : 'Restored'}: <b>{why}</b>
            </li>
          ))}
        </ol>
      ) : (
        reason && <p>{reason}</p>
      )}
      {isExcluded && <p>It stays in the list and counts nowhere.</p>}
      <div class="row">
        <label class="grow">
          <span>{isExcluded ? 'Reason to restore it' : 'Reason to exclude it'}</span>
          <input
            value={text}
            list="usual-reasons"
            maxLength={1000}
            aria-invalid={asked}
            onInput={(event) => setText(event.currentTarget.value)}
          />
        </label>
        <datalist id="usual-reasons">
          {(isExcluded ? USUAL_REASONS_BACK : USUAL_REASONS).map((usual) => (
            <option key={usual} value={usual} />
          ))}
        </datalist>
        <button type="submit">{isExcluded ? 'Restore' : 'Exclude'}</button>
        {isExcluded && (
          <button type="button" onClick={() => decide('exclude')}>
            Exclude for this reason instead
          </button>
        )}
      </div>
      {asked && (
        <p class="warn" role="alert">
          Say why, so that others can judge it too.
        </p>
      )}
    </form>
  );
}
