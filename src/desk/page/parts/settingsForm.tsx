/** What a person states about the clip; an empty field means that lagreel works it out. */
import { useState } from 'preact/hooks';
import type { Recipe } from '../../../record/recipe.js';
import { labelLines, labelsOfLines } from '../logic/labels.js';

interface NumberFieldProps {
  readonly words: string;
  readonly note?: string;
  readonly value: number | null;
  readonly min: number;
  readonly max: number;
  /** True where the field may be left empty. */
  readonly open: boolean;
  readonly onValue: (value: number | null) => void;
}

function NumberField({ words, note, value, min, max, open, onValue }: NumberFieldProps) {
  const [fault, setFault] = useState(false);
  return (
    <label>
      <span>{words}</span>
      <input
        type="number"
        step="any"
        value={value ?? ''}
        min={min}
        max={max}
        placeholder={open ? 'work it out' : ''}
        aria-invalid={fault}
        onChange={(event) => {
          const { value: text, valueAsNumber } = event.currentTarget;
          const empty = text.trim() === '';
          const good = empty ? open : valueAsNumber >= min && valueAsNumber <= max;
          setFault(!good);
          if (good) onValue(empty ? null : valueAsNumber);
        }}
      />
      {fault ? (
        <small class="warn">
          From {min} to {max}.
        </small>
      ) : (
        note && <small>{note}</small>
      )}
    </label>
  );
}

/** See the head of this file. */
export function SettingsForm({
  recipe,
  sessionLabels,
  onEdit,
}: {
  recipe: Recipe;
  sessionLabels: Readonly<Record<string, string>> | null;
  onEdit: (recipe: Recipe, said: string) => void;
}) {
  const [fault, setFault] = useState<string | null>(null);
  const { capture, display, cue, response } = recipe;
  const least = 1e-3;
  return (
    <div class="settings">
      <label class="wide">
        <span>Labels, one a line</span>
        <textarea
          rows={3}
          value={labelLines(recipe.labels)}
          placeholder={'chain: Alder\nmode: flash test'}
          onChange={(event) => {
            const read = labelsOfLines(event.currentTarget.value);
            setFault('fault' in read ? read.fault : null);
            if ('labels' in read) onEdit({ ...recipe, labels: read.labels }, 'Labels changed.');
          }}
        />
        {fault && <small class="warn">{fault}</small>}
        {sessionLabels && (
          <small>From the session table: {labelLines(sessionLabels).replaceAll('\n', ', ')}.</small>
        )}
      </label>
      <NumberField
        words="Display refresh, Hz"
        value={display.refreshHz}
        min={1}
        max={1000}
        open
        onValue={(refreshHz) => onEdit({ ...recipe, display: { ...display, refreshHz } }, 'Refresh changed.')}
      />
      <label>
        <span>The press is when the LED</span>
        <select
          value={cue.edge}
          onChange={(event) => {
            const edge = event.currentTarget.value === 'release' ? 'release' : 'press';
            onEdit({ ...recipe, cue: { ...cue, edge } }, 'Edge changed.');
          }}
        >
          <option value="press">lights up</option>
          <option value="release">goes out</option>
        </select>
      </label>
      <NumberField
        words="Response level, %"
        value={Number((100 * response.level).toFixed(6))}
        min={1}
        max={99}
        open={false}
        onValue={(v) =>
          v !== null && onEdit({ ...recipe, response: { ...response, level: v / 100 } }, 'Level changed.')
        }
      />
      <NumberField
        words="Answers from, ms"
        value={response.windowMs[0]}
        min={-1000}
        max={response.windowMs[1] - 1}
        open={false}
        onValue={(v) =>
          v !== null &&
          onEdit(
            { ...recipe, response: { ...response, windowMs: [v, response.windowMs[1]] } },
            'Window changed.',
          )
        }
      />
      <NumberField
        words="Answers until, ms"
        value={response.windowMs[1]}
        min={Math.max(1, response.windowMs[0] + 1)}
        max={10_000}
        open={false}
        onValue={(v) =>
          v !== null &&
          onEdit(
            { ...recipe, response: { ...response, windowMs: [response.windowMs[0], v] } },
            'Window changed.',
          )
        }
      />
      <NumberField
        words="LED delay, ms"
        note="from contact to light"
        value={cue.delayMs}
        min={-1000}
        max={1000}
        open={false}
        onValue={(v) =>
          v !== null && onEdit({ ...recipe, cue: { ...cue, delayMs: v } }, 'LED delay changed.')
        }
      />
      <NumberField
        words="LED delay ± u, ms"
        value={cue.delayUncertaintyMs}
        min={0}
        max={1000}
        open={false}
        onValue={(v) =>
          v !== null && onEdit({ ...recipe, cue: { ...cue, delayUncertaintyMs: v } }, 'Uncertainty changed.')
        }
      />
      <NumberField
        words="Capture rate, Hz"
        value={capture.rateHz}
        min={1}
        max={100_000}
        open
        onValue={(rateHz) => onEdit({ ...recipe, capture: { ...capture, rateHz } }, 'Capture rate changed.')}
      />
      <NumberField
        words="Exposure, share of a frame"
        value={capture.exposureFraction}
        min={least}
        max={1}
        open
        onValue={(v) =>
          onEdit({ ...recipe, capture: { ...capture, exposureFraction: v } }, 'Exposure changed.')
        }
      />
      <NumberField
        words="Row readout, share of a frame"
        value={capture.readoutFraction}
        min={0}
        max={1}
        open
        onValue={(v) =>
          onEdit({ ...recipe, capture: { ...capture, readoutFraction: v } }, 'Readout changed.')
        }
      />
    </div>
  );
}
