/** Stepping and playing: buttons for every key, the capture time always in sight. */
import { SPEEDS } from '../logic/flashGuard.js';
import type { Playing } from './usePlaying.js';

/** What the stepper shows, and what it reports. */
export interface StepperProps {
  readonly frame: number;
  readonly frames: number;
  readonly atS: number;
  readonly durationS: number;
  /** `on the capture clock` or, where that is unknown, `media time`. */
  readonly clockWords: string;
  /** False for a frame that is not measured from (a copy, a slow part). */
  readonly used: boolean;
  readonly hasOnsets: boolean;
  readonly speed: number;
  readonly playing: Playing;
  /** Flashes in a second that the traces of the regions foretell at this speed; null where there are no traces. */
  readonly foretold: number | null;
  readonly onStep: (by: number) => void;
  readonly onOnset: (direction: 1 | -1) => void;
  readonly onTime: (atS: number) => void;
  readonly onSpeed: (speed: number) => void;
}

const speedWords = (speed: number): string =>
  speed === 1 ? 'real time' : `1/${Math.round(1 / speed)} of real time`;

/** See the head of this file. */
export function Stepper(props: StepperProps) {
  const { frame, frames, atS, playing, speed, foretold } = props;
  const flashes = foretold !== null && foretold > 3;
  return (
    <div class="stepper">
      <fieldset class="row steps" aria-label="Steps">
        <button
          type="button"
          onClick={() => props.onOnset(-1)}
          disabled={!props.hasOnsets}
          aria-label="Previous onset"
          title="Previous onset ( , )"
        >
          ⇤
        </button>
        <button
          type="button"
          onClick={() => props.onStep(-10)}
          aria-label="−10 frames"
          title="Ten frames back (Shift ←)"
        >
          −10
        </button>
        <button
          type="button"
          onClick={() => props.onStep(-1)}
          aria-label="−1 frame"
          title="One frame back (←)"
        >
          −1
        </button>
        <output class="clock" aria-live="off">
          <b>{atS.toFixed(4)} s</b>
          <span>
            frame {frame + 1} of {frames}
            {props.used ? '' : ', not used'}
          </span>
        </output>
        <button type="button" onClick={() => props.onStep(1)} aria-label="+1 frame" title="One frame on (→)">
          +1
        </button>
        <button
          type="button"
          onClick={() => props.onStep(10)}
          aria-label="+10 frames"
          title="Ten frames on (Shift →)"
        >
          +10
        </button>
        <button
          type="button"
          onClick={() => props.onOnset(1)}
          disabled={!props.hasOnsets}
          aria-label="Next onset"
          title="Next onset ( . )"
        >
          ⇥
        </button>
      </fieldset>
      <div class="row">
        <button
          type="button"
          class="play"
          onClick={() => (playing.playing ? playing.stop() : playing.play(false))}
        >
          {playing.playing ? 'Pause' : 'Play'}
        </button>
        <label>
          <span>Speed</span>
          <select
            value={String(speed)}
            onChange={(event) => props.onSpeed(Number(event.currentTarget.value))}
          >
            {SPEEDS.map((s) => (
              <option key={s} value={String(s)}>
                {speedWords(s)}
              </option>
            ))}
          </select>
        </label>
        <label>
          <span>Go to, s</span>
          <input
            type="number"
            step="any"
            class="short"
            onChange={(event) => {
              const { valueAsNumber } = event.currentTarget;
              if (Number.isFinite(valueAsNumber)) props.onTime(valueAsNumber);
            }}
          />
        </label>
        <span class="muted small">{props.clockWords}</span>
      </div>
      {(playing.held || (flashes && !playing.playing)) && (
        <div class="caution" role="alert">
          <p>
            {playing.held
              ? 'Stopped: the next picture would have made more than three flashes in a second.'
              : `At this speed the regions flash up to ${foretold} times in a second; the rest of the picture is judged while it plays.`}{' '}
            Flashing pictures can trigger seizures.
          </p>
          <div class="row">
            <button
              type="button"
              onClick={() => {
                const slower = SPEEDS.filter((s) => s < speed).at(-1);
                if (slower !== undefined) props.onSpeed(slower);
                playing.stop();
              }}
            >
              Choose a slower speed
            </button>
            <button type="button" onClick={() => playing.play(true)}>
              Play all the same
            </button>
          </div>
        </div>
      )}
    </div>
  );
}
