/** Keys of the whole page, and a switch for the single-character ones (WCAG 2.2, success criterion 2.1.4). */
import { useEffect, useRef, useState } from 'preact/hooks';

const SWITCH = 'lagreel-single-keys';

/** True where a key press belongs to a field that is being filled in. */
export function isTyping(event: Event): boolean {
  const target = event.target as HTMLElement | null;
  return target !== null && /^(INPUT|TEXTAREA|SELECT)$/.test(target.tagName);
}

/** The switch for single-character keys. */
export interface KeySwitch {
  readonly single: boolean;
  readonly onSingle: (on: boolean) => void;
}

/** Listens on the whole page. @param act returns true where it used the key; `single`: character keys are on. */
export function useKeys(act: (event: KeyboardEvent, single: boolean) => boolean): KeySwitch {
  const [single, setSingle] = useState(() => localStorage.getItem(SWITCH) !== 'off');
  const latest = useRef({ act, single });
  latest.current = { act, single };
  useEffect(() => {
    const listen = (event: KeyboardEvent): void => {
      if (event.defaultPrevented) return;
      if (latest.current.act(event, latest.current.single)) event.preventDefault();
    };
    addEventListener('keydown', listen);
    return () => removeEventListener('keydown', listen);
  }, []);
  return {
    single,
    onSingle: (on) => {
      localStorage.setItem(SWITCH, on ? 'on' : 'off');
      setSingle(on);
    },
  };
}

const KEYS: readonly (readonly [string, string])[] = [
  ['← →', 'one frame'],
  ['Shift ← →', 'ten frames'],
  [', .', 'previous, next onset'],
  ['Home End', 'first, last frame'],
  ['N', 'new region'],
  ['Tab', 'to the next region'],
  ['Arrows', 'on a region: move it (Ctrl: ten pixels)'],
  ['Shift arrows', 'on a region: resize it'],
  ['Delete', 'on a region: remove it'],
  ['+ − 0', 'zoom in, out, whole picture'],
  ['Ctrl Z', 'undo; with Shift: redo'],
];

/** The list of keys, with the switch. */
export function KeyHelp({ single, onSingle }: KeySwitch) {
  return (
    <details class="keys">
      <summary>Keys</summary>
      <dl class="facts">
        {KEYS.map(([key, words]) => (
          <>
            <dt>
              <kbd>{key}</kbd>
            </dt>
            <dd>{words}</dd>
          </>
        ))}
      </dl>
      <label class="check">
        <input type="checkbox" checked={single} onChange={(e) => onSingle(e.currentTarget.checked)} />
        <span>Keys of one character (, . N + − 0)</span>
      </label>
    </details>
  );
}
