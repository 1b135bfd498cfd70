/** Clips against each other, grouped by their labels. */
import { useEffect, useState } from 'preact/hooks';
import { fixed, intervalText } from '../../../report/numberText.js';
import type { CompareAnswer, FolderAnswer } from '../../protocol.js';
import { Fault, Heading } from '../parts/deskFrame.js';
import { ScrollBox } from '../parts/scrollBox.js';
import { type DeskApi, RefusedError, sentenceOf } from '../session/api.js';

/** The values of a label among the measured clips. */
function valuesOf(folder: FolderAnswer, key: string): readonly string[] {
  return [...new Set(folder.clips.filter((c) => c.record).flatMap((c) => c.labels[key] ?? []))];
}

/** See the head of this file. */
export function CompareView({ api }: { api: DeskApi }) {
  const [folder, setFolder] = useState<FolderAnswer | null>(null);
  const [by, setBy] = useState('');
  const [left, setLeft] = useState<ReadonlySet<string>>(new Set());
  const [baseline, setBaseline] = useState('');
  const [answer, setAnswer] = useState<CompareAnswer | null>(null);
  const [fault, setFault] = useState<string | null>(null);
  const [allowances, setAllowances] = useState<readonly string[]>([]);
  const [busy, setBusy] = useState(false);
  useEffect(() => {
    api.folder().then(
      (now) => {
        setFolder(now);
        const key = now.labelKeys.includes('chain') ? 'chain' : (now.labelKeys[0] ?? '');
        setBy(key);
        setBaseline(valuesOf(now, key)[0] ?? '');
      },
      (error) => setFault(sentenceOf(error)),
    );
  }, [api]);
  const clips = folder?.clips.filter((c) => c.record) ?? [];
  const ids = clips.filter((c) => !left.has(c.id)).map((c) => c.id);
  const values = folder === null ? [] : valuesOf(folder, by);
  const compare = async (event: Event, allow: readonly string[] = []): Promise<void> => {
    event.preventDefault();
    setBusy(true);
    setAllowances([]);
    try {
      const against = baseline === '' ? null : { [by]: baseline };
      setAnswer(await api.compare({ by: [by], ids, baseline: against, allow }));
      setFault(null);
    } catch (error) {
      setAnswer(null);
      setFault(sentenceOf(error));
      const more = error instanceof RefusedError ? error.fault.allowances : undefined;
      // What was allowed before stays allowed: the next refusal may be about another thing.
      if (more) setAllowances([...new Set([...allow, ...more])]);
    }
    setBusy(false);
  };
  return (
    <>
      <div class="clip-title">
        <a href="#/" class="back">
          ← All clips
        </a>
        <Heading>Compare</Heading>
      </div>
      <form class="compare" onSubmit={(event) => void compare(event)}>
        <fieldset>
          <legend>Clips</legend>
          {clips.map((card) => (
            <label key={card.id} class="check">
              <input
                type="checkbox"
                checked={!left.has(card.id)}
                onChange={(event) => {
                  const next = new Set(left);
                  if (event.currentTarget.checked) next.delete(card.id);
                  else next.add(card.id);
                  setLeft(next);
                  setAllowances([]);
                }}
              />
              <span>
                {card.name} <span class="muted">{card.labels[by] ?? ''}</span>
              </span>
            </label>
          ))}
        </fieldset>
        <div class="row">
          <label>
            <span>By label</span>
            <select
              value={by}
              onChange={(event) => {
                setBy(event.currentTarget.value);
                setAllowances([]);
                setBaseline((folder ? valuesOf(folder, event.currentTarget.value) : [])[0] ?? '');
              }}
            >
              {folder?.labelKeys.map((key) => (
                <option key={key} value={key}>
                  {key}
                </option>
              ))}
            </select>
          </label>
          <label>
            <span>Against</span>
            <select
              value={baseline}
              onChange={(event) => {
                setBaseline(event.currentTarget.value);
                setAllowances([]);
              }}
            >
              <option value="">nobody: list the groups</option>
              {values.map((value) => (
                <option key={value} value={value}>
                  {value}
                </option>
              ))}
            </select>
          </label>
          <button type="submit" class="main" disabled={busy || ids.length < 2 || by === ''}>
            {busy ? 'Comparing…' : 'Compare'}
          </button>
        </div>
      </form>
      {fault && <Fault>{fault}</Fault>}
      {allowances.length > 0 && (
        <button type="button" disabled={busy} onClick={(event) => void compare(event, allowances)}>
          Compare all the same
        </button>
      )}
      {answer && (
        <section aria-label="Comparison">
          <ul class="sentences">
            {answer.comparison.comparisons.map((c) => (
              <li key={`${c.region} ${c.sentence}`} class={c.verdict}>
                {answer.comparison.comparisons.some((other) => other.region !== c.region) && (
                  <span class="muted">{c.region}: </span>
                )}
                {c.sentence}
              </li>
            ))}
          </ul>
          <ScrollBox label="Groups">
            <table>
              <thead>
                <tr>
                  <th scope="col">{by}</th>
                  <th scope="col">region</th>
                  <th scope="col" class="number">
                    fixed delay, ms
                  </th>
                  <th scope="col" class="number">
                    95 % interval
                  </th>
                  <th scope="col" class="number">
                    median, ms
                  </th>
                  <th scope="col" class="number">
                    presses
                  </th>
                  <th scope="col">lag</th>
                </tr>
              </thead>
              <tbody>
                {answer.comparison.groups.map((g) => (
                  <tr key={`${g.name} ${g.region}`}>
                    <th scope="row">
                      {g.name}
                      {g.isBaseline ? ' (baseline)' : ''}
                    </th>
                    <td>{g.region}</td>
                    <td class="number">{g.fixedDelayMs === null ? '–' : fixed(g.fixedDelayMs, 1)}</td>
                    <td class="number">{g.intervalMs === null ? '–' : intervalText(g.intervalMs)}</td>
                    <td class="number">{fixed(g.medianMs, 1)}</td>
                    <td class="number">{g.n}</td>
                    <td>{g.lag}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </ScrollBox>
          <details>
            <summary>As lagreel compare prints it</summary>
            {/* biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reachable by keyboard */}
            <pre tabIndex={0}>{answer.text}</pre>
          </details>
        </section>
      )}
    </>
  );
}
