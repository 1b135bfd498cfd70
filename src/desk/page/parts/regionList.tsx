/** The regions as a list with numbers: everything that the pointer does, for the keyboard. */
import { useState } from 'preact/hooks';
import type { Region, RegionRole } from '../../../region/region.js';
import { insidePicture, nameFault, type PictureSize, roleFault } from '../logic/regionEdits.js';
import { ROLE_WORDS } from './pictureStage.js';

const SIDES = [
  ['x', 'left'],
  ['y', 'top'],
  ['width', 'width'],
  ['height', 'height'],
] as const;

/** What the list shows, and what it reports. */
export interface RegionListProps {
  readonly regions: readonly Region[];
  readonly size: PictureSize;
  readonly selected: number | null;
  readonly onSelect: (index: number) => void;
  readonly onChange: (index: number, region: Region, mark: string | null) => void;
  readonly onRemove: (index: number) => void;
}

/** See the head of this file. */
export function RegionList(props: RegionListProps) {
  const [fault, setFault] = useState<string | null>(null);
  const { regions, size } = props;
  if (regions.length === 0) {
    return (
      <p class="muted">
        No region yet. Draw one over the LED and one over each part of the screen that answers.
      </p>
    );
  }
  return (
    <>
      {fault && (
        <p class="fault" role="alert">
          {fault}
        </p>
      )}
      <ul class="region-list">
        {regions.map((region, index) => (
          <li
            key={index}
            class={props.selected === index ? 'chosen' : ''}
            onFocusIn={() => props.onSelect(index)}
          >
            <div class="row">
              <label class="grow">
                <span>Name</span>
                <input
                  value={region.name}
                  onChange={(event) => {
                    const name = event.currentTarget.value;
                    const why = nameFault(regions, index, name);
                    setFault(why);
                    if (why === null) props.onChange(index, { ...region, name }, null);
                    else event.currentTarget.value = region.name;
                  }}
                />
              </label>
              <label>
                <span>Role</span>
                <select
                  value={region.role}
                  onChange={(event) => {
                    const role = event.currentTarget.value as RegionRole;
                    const why = roleFault(regions, index, role);
                    setFault(why);
                    if (why === null) props.onChange(index, { ...region, role }, null);
                    else event.currentTarget.value = region.role;
                  }}
                >
                  {Object.entries(ROLE_WORDS).map(([role, words]) => (
                    <option key={role} value={role}>
                      {words}
                    </option>
                  ))}
                </select>
              </label>
              <button
                type="button"
                title="Delete this region (Delete)"
                aria-label={`Delete region ${region.name}`}
                onClick={() => props.onRemove(index)}
              >
                ✕
              </button>
            </div>
            <div class="row sides">
              {SIDES.map(([side, words]) => (
                <label key={side}>
                  <span>{words}</span>
                  <input
                    type="number"
                    value={region[side]}
                    min={side === 'x' || side === 'y' ? 0 : 2}
                    onChange={(event) => {
                      const value = event.currentTarget.valueAsNumber;
                      if (!Number.isFinite(value)) return;
                      const next = { ...region, ...insidePicture({ ...region, [side]: value }, size) };
                      props.onChange(index, next, `${side} ${index}`);
                    }}
                  />
                </label>
              ))}
            </div>
          </li>
        ))}
      </ul>
    </>
  );
}
