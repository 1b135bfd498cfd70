/** The picture with its regions: pointer, touch and keyboard draw, move, resize and zoom. */
import type { ComponentChildren } from 'preact';
import { useRef, useState } from 'preact/hooks';
import type { Region, RegionRole } from '../../../region/region.js';
import {
  dragged,
  type Grip,
  moved,
  type PicturePoint,
  type PictureSize,
  type Rectangle,
  resized,
} from '../logic/regionEdits.js';
import { type PictureView, panned, pictureShare, placement, zoomed } from '../logic/zoom.js';

/** The words of a role. */
export const ROLE_WORDS: Readonly<Record<RegionRole, string>> = {
  led: 'LED',
  screen: 'screen',
  reference: 'reference',
};

const GRIPS: readonly (readonly [string, Grip])[] = [
  ['nw', { horizontal: -1, vertical: -1 }],
  ['ne', { horizontal: 1, vertical: -1 }],
  ['sw', { horizontal: -1, vertical: 1 }],
  ['se', { horizontal: 1, vertical: 1 }],
];

const ARROWS: Readonly<Record<string, readonly [number, number]>> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};

/** What the stage shows, and what it reports. */
export interface StageProps {
  readonly size: PictureSize;
  readonly regions: readonly Region[];
  readonly selected: number | null;
  readonly view: PictureView;
  /** Role of a region that the next drag draws; null: drags move. */
  readonly drawing: RegionRole | null;
  readonly children: ComponentChildren;
  readonly onView: (view: PictureView) => void;
  readonly onSelect: (index: number | null) => void;
  readonly onDrawn: (rectangle: Rectangle) => void;
  /** `mark` keeps the small moves of one drag together. */
  readonly onChange: (index: number, region: Region, mark: string) => void;
  readonly onRemove: (index: number) => void;
}

type Drag =
  | { readonly kind: 'draw'; readonly from: PicturePoint }
  | { readonly kind: 'pan'; readonly from: PicturePoint; readonly view: PictureView }
  | { readonly kind: 'move'; readonly from: PicturePoint; readonly index: number; readonly grip: Grip | null }
  | {
      readonly kind: 'pinch';
      readonly spread: number;
      readonly view: PictureView;
      readonly at: PicturePoint;
    };

const percent = (share: number): string => `${(100 * share).toFixed(4)}%`;

/** See the head of this file. */
export function PictureStage(props: StageProps) {
  const { size, regions, view } = props;
  const box = useRef<HTMLDivElement>(null);
  const pointers = useRef(new Map<number, PointerEvent>());
  const drag = useRef<Drag | null>(null);
  const drags = useRef(0);
  const start = useRef<Region | null>(null);
  const [ghost, setGhost] = useState<Rectangle | null>(null);

  const windowShare = (event: { clientX: number; clientY: number }): PicturePoint => {
    const rect = box.current!.getBoundingClientRect();
    return { x: (event.clientX - rect.left) / rect.width, y: (event.clientY - rect.top) / rect.height };
  };
  const picturePoint = (event: { clientX: number; clientY: number }): PicturePoint => {
    const at = windowShare(event);
    const share = pictureShare(view, at.x, at.y);
    return { x: share.x * size.width, y: share.y * size.height };
  };

  function press(event: PointerEvent): void {
    if (event.button !== 0) return;
    pointers.current.set(event.pointerId, event);
    box.current!.setPointerCapture(event.pointerId);
    const at = picturePoint(event);
    if (pointers.current.size === 2) {
      const [one, other] = [...pointers.current.values()] as [PointerEvent, PointerEvent];
      const middle = windowShare({
        clientX: (one.clientX + other.clientX) / 2,
        clientY: (one.clientY + other.clientY) / 2,
      });
      const share = pictureShare(view, middle.x, middle.y);
      const spread = Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);
      drag.current = { kind: 'pinch', spread, view, at: share };
      setGhost(null);
      return;
    }
    const target = event.target as HTMLElement;
    const index = target.dataset.region === undefined ? null : Number(target.dataset.region);
    if (props.drawing !== null) {
      drag.current = { kind: 'draw', from: at };
      event.preventDefault();
    } else if (index !== null) {
      const grip = GRIPS.find(([name]) => name === target.dataset.grip)?.[1] ?? null;
      drag.current = { kind: 'move', from: at, index, grip };
      start.current = regions[index] ?? null;
      drags.current++;
      props.onSelect(index);
    } else {
      drag.current = { kind: 'pan', from: windowShare(event), view };
      props.onSelect(null);
    }
  }

  function move(event: PointerEvent): void {
    if (!pointers.current.has(event.pointerId)) return;
    pointers.current.set(event.pointerId, event);
    const now = drag.current;
    if (!now) return;
    if (now.kind === 'pinch') {
      const [one, other] = [...pointers.current.values()];
      if (!one || !other) return;
      const spread = Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);
      props.onView(zoomed(now.view, spread / Math.max(1, now.spread), now.at.x, now.at.y));
    } else if (now.kind === 'draw') setGhost(dragged(now.from, picturePoint(event), size));
    else if (now.kind === 'pan') {
      const at = windowShare(event);
      props.onView(panned(now.view, now.from.x - at.x, now.from.y - at.y));
    } else if (start.current) {
      const at = picturePoint(event);
      const [dx, dy] = [at.x - now.from.x, at.y - now.from.y];
      const next = now.grip
        ? resized(start.current, now.grip, dx, dy, size)
        : moved(start.current, dx, dy, size);
      props.onChange(now.index, next, `drag ${drags.current}`);
    }
  }

  function release(event: PointerEvent): void {
    if (!pointers.current.delete(event.pointerId)) return;
    const done = drag.current;
    drag.current = null;
    if (done?.kind === 'draw') {
      setGhost(null);
      const drawn = dragged(done.from, picturePoint(event), size);
      if (drawn.width >= 4 && drawn.height >= 4) props.onDrawn(drawn);
    }
  }

  function wheel(event: WheelEvent): void {
    // Without a modifier the page scrolls, as anywhere else.
    if (!event.ctrlKey && !event.metaKey) return;
    event.preventDefault();
    const at = windowShare(event);
    const share = pictureShare(view, at.x, at.y);
    props.onView(zoomed(view, 1.2 ** (-event.deltaY / 100), share.x, share.y));
  }

  function regionKey(event: KeyboardEvent, index: number): void {
    const region = regions[index]!;
    const arrow = ARROWS[event.key];
    if (arrow && !event.altKey && !event.metaKey) {
      const step = event.ctrlKey ? 10 : 1;
      const [dx, dy] = [arrow[0] * step, arrow[1] * step];
      const next = event.shiftKey
        ? resized(region, { horizontal: 1, vertical: 1 }, dx, dy, size)
        : moved(region, dx, dy, size);
      props.onChange(index, next, `keys ${index}`);
    } else if (event.key === 'Delete' || event.key === 'Backspace') props.onRemove(index);
    else if (event.key === 'Escape') props.onSelect(null);
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  const place = placement(view);
  const rectangleStyle = (r: Rectangle) => ({
    left: percent(r.x / size.width),
    top: percent(r.y / size.height),
    width: percent(r.width / size.width),
    height: percent(r.height / size.height),
  });
  return (
    <div
      ref={box}
      class={`stage${props.drawing ? ' drawing' : view.zoom > 1 ? ' loose' : ''}`}
      style={{
        aspectRatio: `${size.width} / ${size.height}`,
        // As wide as there is room, but never so that the traces are pushed off the screen.
        width: `min(100%, calc(43vh * ${size.width / size.height}))`,
      }}
      onPointerDown={press}
      onPointerMove={move}
      onPointerUp={release}
      onPointerCancel={release}
      onWheel={wheel}
    >
      <div
        class="sheet-of-picture"
        style={{
          left: percent(place.left),
          top: percent(place.top),
          width: percent(place.size),
          height: percent(place.size),
        }}
      >
        {props.children}
        {regions.map((region, index) => (
          <button
            key={index}
            type="button"
            class={`region ${region.role}${props.selected === index ? ' chosen' : ''}`}
            style={rectangleStyle(region)}
            data-region={index}
            aria-pressed={props.selected === index}
            aria-label={`${region.name}, ${ROLE_WORDS[region.role]} region, left ${region.x}, top ${region.y}, ${region.width} by ${region.height} pixels`}
            aria-describedby="region-keys"
            onFocus={() => props.selected !== index && props.onSelect(index)}
            onKeyDown={(event) => regionKey(event, index)}
          >
            <span class="region-name" data-region={index}>
              {region.name}
            </span>
            {props.selected === index &&
              GRIPS.map(([name]) => (
                <span key={name} class={`grip ${name}`} data-region={index} data-grip={name} />
              ))}
          </button>
        ))}
        {ghost && <div class={`region ghost ${props.drawing ?? ''}`} style={rectangleStyle(ghost)} />}
      </div>
    </div>
  );
}
