/** What the presses say together: the answer, its distribution, the wait model, the worries, the report. */
import { useState } from 'preact/hooks';
import { countsText, headlineOf, pressCounts, screenRegions } from '../../../report/headline.js';
import { regionSection } from '../../../report/page/regionSection.js';
import { DeskFrame, Fault } from '../parts/deskFrame.js';
import { MeasureBar } from '../parts/measureBar.js';
import { type DeskApi, sentenceOf } from '../session/api.js';
import type { ClipSession } from '../session/clipSession.js';

/** See the head of this file. */
export function NumbersView({ api, session }: { api: DeskApi; session: ClipSession }) {
  const { record, clip, job } = session.state;
  const [fault, setFault] = useState<string | null>(null);
  const [making, setMaking] = useState(false);
  const report = async (): Promise<void> => {
    // The tab must be opened within the click, or it counts as unasked for.
    const tab = window.open('about:blank', '_blank');
    setMaking(true);
    try {
      const { address } = await api.report(clip.id);
      if (tab) {
        tab.opener = null;
        tab.location.replace(new URL(address, location.href).href);
      } else setFault('The browser did not allow a new tab for the report.');
    } catch (error) {
      tab?.close();
      setFault(sentenceOf(error));
    }
    setMaking(false);
  };
  if (record === null) {
    return (
      <DeskFrame session={session} here="numbers">
        <p class="empty">Measure the clip first; then its numbers stand here.</p>
        <MeasureBar session={session} />
      </DeskFrame>
    );
  }
  const regions = screenRegions(record);
  return (
    <DeskFrame session={session} here="numbers">
      <div class="row tools">
        <MeasureBar session={session} />
        <span class="spring" />
        <button type="button" disabled={making} onClick={() => void report()}>
          {making ? 'Making the report…' : 'Open the report'}
        </button>
      </div>
      {fault && <Fault>{fault}</Fault>}
      <div class="answers" aria-busy={job !== null}>
        {regions.map((region) => {
          const { main, others, verdict } = headlineOf(record, region);
          const [, value, unit] = /^(\S+) (.*)$/.exec(main?.value ?? '') ?? [null, '–', ''];
          return (
            <section key={region} class="answer" aria-label={`Answer of ${region}`}>
              <h2>{region}</h2>
              <p class="big">
                <b>{value}</b> <span class="unit">{unit}</span>
              </p>
              <p class="big-name">
                {main?.label} <span>{main?.note}</span>
              </p>
              <p class="verdict">{verdict}</p>
              <dl class="figures">
                {others.map((figure) => (
                  <div key={figure.label}>
                    <dt>{figure.label}</dt>
                    <dd class="value">{figure.value}</dd>
                    <dd class="note">{figure.note}</dd>
                  </div>
                ))}
              </dl>
            </section>
          );
        })}
      </div>
      <p class="counts">{countsText(pressCounts(record))}.</p>
      <section aria-label="What to worry about">
        <h2>The clip is {record.fitness.class}</h2>
        <ul class="worries">
          {record.fitness.reasons.map((reason) => (
            <li key={reason.code} class={reason.severity}>
              {reason.text}
            </li>
          ))}
          {record.warnings.map((warning) => (
            <li key={warning}>{warning}</li>
          ))}
        </ul>
      </section>
      {regions.map((region, i) => (
        <div
          key={region}
          // Made by the report's own escaping templates.
          dangerouslySetInnerHTML={{ __html: regionSection(record, region, `region-${i + 1}`).text }}
        />
      ))}
    </DeskFrame>
  );
}
