/** Measure, with progress, and cancel. */
import type { ClipSession } from '../session/clipSession.js';

/** See the head of this file. */
export function MeasureBar({ session }: { session: ClipSession }) {
  const { job, record, outdated } = session.state;
  if (job) {
    const percent = job.fraction === null ? null : Math.round(100 * job.fraction);
    return (
      <div class="measure-bar">
        <label class="progress">
          <span>
            {job.kind === 'find' ? 'Looking for regions' : job.stage || 'Measuring'}
            {percent === null ? '' : `, ${percent} %`}
          </span>
          <progress max={100} {...(percent === null ? {} : { value: percent })} />
        </label>
        <button type="button" onClick={() => session.cancel()}>
          Cancel
        </button>
      </div>
    );
  }
  const words = record === null ? 'Measure' : outdated ? 'Measure again' : 'Measured';
  return (
    <div class="measure-bar">
      <button
        type="button"
        class={record === null || outdated ? 'main' : ''}
        onClick={() => void session.measure()}
      >
        {words === 'Measured' ? 'Measure again' : words}
      </button>
      <span class="muted">
        {record === null
          ? 'Not measured yet.'
          : outdated
            ? 'The numbers are older than the recipe.'
            : `${record.presses.length} presses, ${record.fitness.class}.`}
      </span>
    </div>
  );
}
