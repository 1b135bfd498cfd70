/** The traces of all regions on one time axis, with buttons for what the pointer does. */
import { useEffect, useState } from 'preact/hooks';
import type { TracesAnswer } from '../../protocol.js';
import { flashesAtSpeed } from '../logic/flashGuard.js';
import { float32Of, float64Of } from '../logic/series.js';
import type { OnsetMark } from '../logic/stepping.js';
import { type TraceLine, TracePlots } from './tracePlot.js';

/** The lines of an answer; none where there is no answer. */
export function traceLinesOf(traces: TracesAnswer | null): readonly TraceLine[] {
  if (traces === null) return [];
  const timesS = float64Of(traces.capturedAtS);
  return traces.regions.map(({ name, role, values, signal, middleS }) => ({
    name,
    role,
    timesS: timesS.map((t) => t + middleS),
    values: float32Of(signal ?? values),
    light: float32Of(values),
  }));
}

/**
 * The most flashes in a second that the light of any region makes at a speed; null where nothing is known. What lies
 * outside the regions is judged while it is played.
 */
export function foretoldFlashes(lines: readonly TraceLine[], speed: number): number | null {
  const flashing = lines.filter((l) => l.role !== 'reference');
  if (flashing.length === 0) return null;
  return Math.max(...flashing.map((l) => flashesAtSpeed(l.light, l.timesS, speed)));
}

/** See the head of this file. */
export function TracePile({
  lines,
  marks,
  atS,
  onTime,
  outdated,
}: {
  lines: readonly TraceLine[];
  marks: readonly OnsetMark[];
  atS: number;
  onTime: (atS: number) => void;
  outdated: boolean;
}) {
  const first = lines[0]?.timesS[0] ?? 0;
  const last = lines[0]?.timesS.at(-1) ?? 1;
  const [windowS, setWindow] = useState<readonly [number, number]>([first, last]);
  useEffect(() => setWindow([first, last]), [first, last]);
  const [from, to] = windowS;
  useEffect(() => {
    // The window follows the frame, so that a stepped-to onset is always in sight.
    if (atS >= from && atS <= to) return;
    const width = to - from;
    const start = Math.min(Math.max(first, atS - width / 2), Math.max(first, last - width));
    setWindow([start, start + width]);
  }, [atS]);
  if (lines.length === 0) {
    return <p class="muted traces-none">Traces appear here once the regions are measured.</p>;
  }
  const scale = (factor: number): void => {
    const width = Math.min(last - first, Math.max(0.02, (to - from) * factor));
    const middle = atS >= from && atS <= to ? atS : (from + to) / 2;
    const start = Math.min(Math.max(first, middle - width / 2), last - width);
    setWindow([start, start + width]);
  };
  const shift = (share: number): void => {
    const width = to - from;
    const start = Math.min(Math.max(first, from + share * width), last - width);
    setWindow([start, start + width]);
  };
  return (
    <section class="traces" aria-label="Traces">
      <fieldset class="row tools" aria-label="Traces: what is seen">
        <h2>Traces</h2>
        <span class="muted small">
          {outdated ? 'of the last measurement' : 'click: go to the frame; drag: look closer'}
        </span>
        <span class="spring" />
        <button type="button" aria-label="Earlier" onClick={() => shift(-0.5)} disabled={from <= first}>
          ‹
        </button>
        <button type="button" aria-label="Traces: look closer" onClick={() => scale(0.5)}>
          +
        </button>
        <button
          type="button"
          aria-label="Traces: see more"
          onClick={() => scale(2)}
          disabled={to - from >= last - first}
        >
          −
        </button>
        <button type="button" aria-label="Later" onClick={() => shift(0.5)} disabled={to >= last}>
          ›
        </button>
        <button type="button" onClick={() => setWindow([first, last])} aria-label="Traces: whole clip">
          Whole
        </button>
      </fieldset>
      <TracePlots
        lines={lines}
        marks={marks}
        windowS={windowS}
        atS={atS}
        heightPx={66}
        lastHeightPx={96}
        onWindow={([a, b]) => setWindow([Math.max(first, a), Math.min(last, b)])}
        onTime={onTime}
      />
    </section>
  );
}
