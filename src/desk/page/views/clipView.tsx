/** The clip: its frames with the regions over them, the traces below, settings and regions beside them. */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { RegionRole } from '../../../region/region.js';
import { harmlessSpeed } from '../logic/flashGuard.js';
import { placedAt, replaced, without, withRegion } from '../logic/regionEdits.js';
import { float64Of } from '../logic/series.js';
import { nearestFrame, onsetFrame, onsetsOf, steppedFrame } from '../logic/stepping.js';
import { type PictureView, settled, WHOLE_PICTURE, zoomed } from '../logic/zoom.js';
import { DeskFrame } from '../parts/deskFrame.js';
import { FramePicture } from '../parts/framePicture.js';
import { isTyping, KeyHelp, useKeys } from '../parts/keys.js';
import { MeasureBar } from '../parts/measureBar.js';
import { PictureStage, ROLE_WORDS } from '../parts/pictureStage.js';
import { RegionList } from '../parts/regionList.js';
import { SettingsForm } from '../parts/settingsForm.js';
import { Stepper } from '../parts/stepper.js';
import { foretoldFlashes, TracePile, traceLinesOf } from '../parts/tracePile.js';
import { usePicture } from '../parts/usePicture.js';
import { usePlaying } from '../parts/usePlaying.js';
import type { DeskApi } from '../session/api.js';
import type { ClipSession } from '../session/clipSession.js';

/** Longest side of a frame picture, px, as long as one is not zoomed in. */
const FIT_PX = 1280;

/** See the head of this file. `place` remembers the frame while one looks at other views. */
export function ClipView({
  api,
  session,
  place,
}: {
  api: DeskApi;
  session: ClipSession;
  place: { frame: number };
}) {
  const { clip, record, traces } = session.state;
  const { recipe } = session;
  const { facts } = clip;
  const timesS = useMemo(() => float64Of(clip.capturedAtS), [clip.capturedAtS]);
  const used = useMemo(() => (clip.used === null ? null : atob(clip.used)), [clip.used]);
  const marks = useMemo(() => onsetsOf(record), [record]);
  const lines = useMemo(() => traceLinesOf(traces), [traces]);
  const [frame, setFrame] = useState(Math.min(place.frame, facts.frames - 1));
  const [view, setView] = useState<PictureView>(WHOLE_PICTURE);
  const [selected, setSelected] = useState<number | null>(null);
  const [drawing, setDrawing] = useState<RegionRole | null>(null);
  const rateHz = facts.captureRateHz ?? facts.mediaRateHz ?? 240;
  const [speed, setSpeed] = useState(() => harmlessSpeed(rateHz));
  const foretold = useMemo(() => foretoldFlashes(lines, speed), [lines, speed]);
  const stage = useRef<HTMLDivElement>(null);
  const longestPx = Math.max(facts.width, facts.height);
  const maxPx = view.zoom > 1 ? longestPx : Math.min(FIT_PX, longestPx);
  const [unguarded, setUnguarded] = useState(false);
  const { shown, fault, ready } = usePicture(api, clip.id, facts.frames, frame, maxPx, unguarded);

  const show = (next: number): void => {
    place.frame = next;
    setFrame(next);
  };
  const step = (by: number): void => show(steppedFrame(frame, by, facts.frames));
  const goTo = (atS: number): void => show(nearestFrame(timesS, atS));
  const onset = (direction: 1 | -1): void => show(onsetFrame(marks, timesS, frame, direction));
  const playing = usePlaying({
    frames: facts.frames,
    frame,
    captureRateHz: rateHz,
    speed,
    ready,
    onFrame: show,
  });
  useEffect(() => setUnguarded(playing.unguarded), [playing.unguarded]);

  const choose = (index: number | null): void => setSelected(index);
  const focusRegion = (index: number): void => {
    // The button appears with the next drawing.
    requestAnimationFrame(() =>
      stage.current?.querySelector<HTMLElement>(`button[data-region="${index}"]`)?.focus(),
    );
  };
  const add = (
    role: RegionRole,
    rectangle = placedAt({ x: view.centreX * facts.width, y: view.centreY * facts.height }, facts),
  ): void => {
    const regions = withRegion(recipe.regions, role, rectangle);
    const at = role === 'led' ? regions.findIndex((r) => r.role === 'led') : regions.length - 1;
    session.edit({ ...recipe, regions }, `Region ${regions[at]!.name} added.`);
    setSelected(at);
    focusRegion(at);
  };
  const remove = (index: number): void => {
    const gone = recipe.regions[index]!;
    session.edit({ ...recipe, regions: without(recipe.regions, index) }, `Region ${gone.name} deleted.`);
    setSelected(null);
    requestAnimationFrame(() => document.querySelector<HTMLElement>('.add-region')?.focus());
  };
  /** Towards the chosen region, where there is one; else towards the middle of what is seen. */
  const zoomBy = (factor: number): void => {
    const region = selected === null ? undefined : recipe.regions[selected];
    const next = zoomed(view, factor, view.centreX, view.centreY);
    if (!region || factor < 1) {
      setView(next);
      return;
    }
    setView(
      settled({
        zoom: next.zoom,
        centreX: (region.x + region.width / 2) / facts.width,
        centreY: (region.y + region.height / 2) / facts.height,
      }),
    );
  };
  const nextRole: RegionRole = recipe.regions.some((r) => r.role === 'led') ? 'screen' : 'led';

  const keysOn = useKeys((event, single) => {
    if (isTyping(event) || event.altKey || event.metaKey) return false;
    if (event.ctrlKey) return false;
    const by = event.shiftKey ? 10 : 1;
    if (event.key === 'ArrowRight') step(by);
    else if (event.key === 'ArrowLeft') step(-by);
    else if (event.key === 'Home') show(0);
    else if (event.key === 'End') show(facts.frames - 1);
    else if (event.key === 'Escape') setDrawing(null);
    else if (!single) return false;
    else if (event.key === '.') onset(1);
    else if (event.key === ',') onset(-1);
    else if (event.key === 'n' || event.key === 'N') add(nextRole);
    else if (event.key === '+' || event.key === '=') zoomBy(1.5);
    else if (event.key === '-') zoomBy(1 / 1.5);
    else if (event.key === '0') setView(WHOLE_PICTURE);
    else return false;
    return true;
  });
  useEffect(() => {
    if (selected !== null && selected >= recipe.regions.length) setSelected(null);
  }, [recipe.regions.length, selected]);

  const atS = timesS[frame] ?? 0;
  const crisp = view.zoom * FIT_PX > 2 * facts.width;
  return (
    <DeskFrame session={session} here="clip">
      <div class="workbench">
        <section class="picture-side" aria-label="Frames and regions">
          <fieldset class="row tools" aria-label="Regions and zoom">
            {(['led', 'screen', 'reference'] as const).map((role) => (
              <button
                key={role}
                type="button"
                class={`draw ${role}`}
                aria-pressed={drawing === role}
                onClick={() => setDrawing(drawing === role ? null : role)}
              >
                Draw {ROLE_WORDS[role]}
              </button>
            ))}
            <button type="button" class="add-region" title="New region (N)" onClick={() => add(nextRole)}>
              Add {ROLE_WORDS[nextRole]}
            </button>
            <button type="button" onClick={() => void session.find()} disabled={session.state.job !== null}>
              Find regions
            </button>
            <span class="spring" />
            <button
              type="button"
              aria-label="Zoom out"
              title="Zoom out (-)"
              disabled={view.zoom <= 1}
              onClick={() => zoomBy(1 / 1.5)}
            >
              −
            </button>
            <button
              type="button"
              class="zoom"
              aria-label={`Whole picture; the zoom is ${Math.round(100 * view.zoom)} %`}
              title="Whole picture (0)"
              disabled={view.zoom <= 1}
              onClick={() => setView(WHOLE_PICTURE)}
            >
              {Math.round(100 * view.zoom)} %
            </button>
            <button type="button" aria-label="Zoom in" title="Zoom in (+)" onClick={() => zoomBy(1.5)}>
              +
            </button>
          </fieldset>
          <div ref={stage} data-shown={shown?.frame ?? ''}>
            <PictureStage
              size={facts}
              regions={recipe.regions}
              selected={selected}
              view={view}
              drawing={drawing}
              onView={setView}
              onSelect={choose}
              onDrawn={(rectangle) => {
                if (drawing) add(drawing, rectangle);
                setDrawing(null);
              }}
              onChange={(index, region, mark) =>
                session.edit({ ...recipe, regions: replaced(recipe.regions, index, region) }, '', mark)
              }
              onRemove={remove}
            >
              <FramePicture
                picture={shown?.picture ?? null}
                crisp={crisp}
                alt={`Camera frame ${(shown?.frame ?? frame) + 1} of ${facts.frames}, captured at ${(timesS[shown?.frame ?? frame] ?? 0).toFixed(4)} s`}
              />
            </PictureStage>
          </div>
          {fault && (
            <p class="fault" role="alert">
              This frame could not be read.
            </p>
          )}
          <p id="region-keys" class="quiet-voice">
            Arrow keys move the region, Shift with arrow keys resizes it, Control makes it ten pixels, Delete
            removes it.
          </p>
          <Stepper
            frame={frame}
            frames={facts.frames}
            atS={atS}
            durationS={facts.durationS}
            clockWords={clip.clock.known ? 'on the capture clock' : `media time: ${clip.clock.reason ?? ''}`}
            used={used === null || used.charCodeAt(frame) === 1}
            hasOnsets={marks.length > 0}
            speed={speed}
            playing={playing}
            foretold={foretold}
            onStep={step}
            onOnset={onset}
            onTime={goTo}
            onSpeed={setSpeed}
          />
          <TracePile lines={lines} marks={marks} atS={atS} onTime={goTo} outdated={session.state.outdated} />
        </section>
        <aside class="panel" aria-label="Measure, regions and settings">
          <MeasureBar session={session} />
          <h2>Regions</h2>
          <RegionList
            regions={recipe.regions}
            size={facts}
            selected={selected}
            onSelect={choose}
            onChange={(index, region, mark) =>
              session.edit(
                { ...recipe, regions: replaced(recipe.regions, index, region) },
                'Region changed.',
                mark,
              )
            }
            onRemove={remove}
          />
          <h2>Settings</h2>
          <SettingsForm
            recipe={recipe}
            sessionLabels={clip.sessionLabels}
            onEdit={(next, said) => session.edit(next, said)}
          />
          <details>
            <summary>About this clip</summary>
            <dl class="facts">
              <dt>Picture</dt>
              <dd>
                {facts.width} × {facts.height} px, {facts.codec} in {facts.container}
              </dd>
              <dt>Length</dt>
              <dd>
                {facts.frames} frames, {facts.durationS.toFixed(2)} s
              </dd>
              <dt>Time</dt>
              <dd>{clip.clock.remarks.join(' ') || 'unknown'}</dd>
            </dl>
          </details>
          <KeyHelp {...keysOn} />
        </aside>
      </div>
    </DeskFrame>
  );
}
