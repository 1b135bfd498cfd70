/** What surrounds every view of a clip: its name, its places, what was saved, undo, and what went wrong. */
import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { fragmentOf } from '../logic/route.js';
import type { ClipSession, SessionState } from '../session/clipSession.js';

const SAVING_WORDS: Readonly<Record<SessionState['saving'], string>> = {
  saved: 'Saved',
  unsaved: 'Not saved yet',
  saving: 'Saving…',
  conflict: 'Not saved: changed elsewhere',
  failed: 'Not saved',
};

/** The heading of a view; it takes the focus when the view opens, so that screen readers begin here. */
export function Heading({ children }: { children: ComponentChildren }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus({ preventScroll: true }), []);
  return (
    <h1 ref={heading} tabIndex={-1}>
      {children}
    </h1>
  );
}

/** A sentence about something that went wrong. */
export function Fault({ children }: { children: ComponentChildren }) {
  return (
    <div class="fault" role="alert">
      {children}
    </div>
  );
}

/** See the head of this file. */
export function DeskFrame({
  session,
  here,
  children,
}: {
  session: ClipSession;
  here: 'clip' | 'presses' | 'numbers';
  children: ComponentChildren;
}) {
  const { state } = session;
  const clip = state.clip.id;
  const places = [
    ['clip', 'Clip and regions'],
    ['presses', 'Presses'],
    ['numbers', 'Numbers'],
  ] as const;
  return (
    <>
      <div class="clip-bar">
        <div class="clip-title">
          <a href="#/" class="back">
            ← All clips
          </a>
          <Heading>{state.clip.name}</Heading>
        </div>
        <nav aria-label="Views of this clip" class="places">
          {places.map(([view, words]) => (
            <a
              key={view}
              href={fragmentOf(view === 'clip' ? { view, clip, press: null } : { view, clip, press: null })}
              aria-current={here === view ? 'page' : undefined}
            >
              {words}
            </a>
          ))}
        </nav>
        <div class="history">
          <span class={`saving ${state.saving === 'saved' && !state.written ? 'unwritten' : state.saving}`}>
            {state.saving === 'saved' && !state.written ? 'Saved, files follow' : SAVING_WORDS[state.saving]}
          </span>
          <button
            type="button"
            disabled={state.history.past.length === 0}
            onClick={() => session.undo()}
            aria-keyshortcuts="Control+Z"
          >
            Undo
          </button>
          <button
            type="button"
            disabled={state.history.future.length === 0}
            onClick={() => session.redo()}
            aria-keyshortcuts="Control+Shift+Z"
          >
            Redo
          </button>
        </div>
      </div>
      {state.saving === 'conflict' ? (
        <Fault>
          <p>
            The recipe of this clip was changed elsewhere, by another desk or the command line. Nothing was
            overwritten.
          </p>
          <div class="row">
            <button type="button" onClick={() => void session.takeTheirs()}>
              Read the changed recipe
            </button>
            <button type="button" onClick={() => void session.keepMine()}>
              Write mine over it
            </button>
          </div>
        </Fault>
      ) : (
        state.fault && (
          <Fault>
            <p>{state.fault}</p>
          </Fault>
        )
      )}
      <p class="quiet-voice" role="status">
        {state.said}
      </p>
      {children}
    </>
  );
}
