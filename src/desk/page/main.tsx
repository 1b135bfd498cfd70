/** Where the page begins: takes the secret out of the address, and shows the view that the address names. */
import { render } from 'preact';
import { useEffect, useMemo, useState } from 'preact/hooks';
import { fragmentOf, type Route, routeOf, secretIn } from './logic/route.js';
import { float64Of } from './logic/series.js';
import { nearestFrame } from './logic/stepping.js';
import { Fault, Heading } from './parts/deskFrame.js';
import { isTyping } from './parts/keys.js';
import { DeskApi, sentenceOf } from './session/api.js';
import { ClipSession } from './session/clipSession.js';
import { adoptHouseStyle } from './style/houseStyle.js';
import { ClipView } from './views/clipView.js';
import { CompareView } from './views/compareView.js';
import { FolderView } from './views/folderView.js';
import { NumbersView } from './views/numbersView.js';
import { PressesView } from './views/pressesView.js';

const SECRET_KEY = 'lagreel-desk-secret';

/** The secret leaves the address bar at once; the tab keeps it, so that a reload works. */
function takeSecret(): string | null {
  const given = secretIn(location.hash);
  if (given !== null) {
    sessionStorage.setItem(SECRET_KEY, given);
    history.replaceState(null, '', '#/');
  }
  return given ?? sessionStorage.getItem(SECRET_KEY);
}

function OpenClip({ api, route }: { api: DeskApi; route: Route & { readonly clip: string } }) {
  const [session, setSession] = useState<ClipSession | null>(null);
  const [, redraw] = useState(0);
  const [fault, setFault] = useState<string | null>(null);
  const place = useMemo(() => ({ frame: 0 }), [route.clip]);
  useEffect(() => {
    let made: ClipSession | null = null;
    let wanted = true;
    api
      .clip(route.clip)
      .then((clip) => {
        if (!wanted) return;
        made = new ClipSession(api, clip, () => redraw((n) => n + 1));
        setSession(made);
        void made.begin();
      })
      .catch((error) => wanted && setFault(sentenceOf(error)));
    return () => {
      wanted = false;
      made?.close();
    };
  }, [api, route.clip]);
  useEffect(() => {
    const keys = (event: KeyboardEvent): void => {
      if (!(event.ctrlKey || event.metaKey) || isTyping(event) || event.key.toLowerCase() !== 'z') return;
      event.preventDefault();
      if (event.shiftKey) session?.redo();
      else session?.undo();
    };
    const leaving = (event: BeforeUnloadEvent): void => {
      const state = session?.state.saving;
      if (state !== undefined && state !== 'saved') event.preventDefault();
    };
    addEventListener('keydown', keys);
    addEventListener('beforeunload', leaving);
    return () => {
      removeEventListener('keydown', keys);
      removeEventListener('beforeunload', leaving);
    };
  }, [session]);
  if (fault !== null) return <Fault>{fault}</Fault>;
  if (session === null || session.state.clip.id !== route.clip) {
    return (
      <p class="empty" role="status">
        Opening the clip…
      </p>
    );
  }
  if (route.view === 'presses') {
    const showFrame = (atS: number): void => {
      place.frame = nearestFrame(float64Of(session.state.clip.capturedAtS), atS);
      location.hash = fragmentOf({ view: 'clip', clip: route.clip, press: null });
    };
    return <PressesView api={api} session={session} press={route.press} onFrameAt={showFrame} />;
  }
  if (route.view === 'numbers') return <NumbersView api={api} session={session} />;
  return <ClipView api={api} session={session} place={place} />;
}

function Desk({ secret }: { secret: string | null }) {
  const api = useMemo(() => (secret === null ? null : new DeskApi(secret)), [secret]);
  const [route, setRoute] = useState(routeOf(location.hash));
  useEffect(() => {
    const follow = (): void => setRoute(routeOf(location.hash));
    addEventListener('hashchange', follow);
    return () => removeEventListener('hashchange', follow);
  }, []);
  return (
    <>
      <header class="desk-head">
        <a href="#/" class="mark" aria-label="lagreel desk, all clips">
          <b>lagreel</b> desk
        </a>
      </header>
      <main>
        {api === null ? (
          <>
            <Heading>This address lacks its secret</Heading>
            <p>
              Open the whole address that <code>lagreel desk</code> printed, with everything after the #.
            </p>
          </>
        ) : route.view === 'folder' ? (
          <FolderView api={api} />
        ) : route.view === 'compare' ? (
          <CompareView api={api} />
        ) : (
          <OpenClip api={api} route={route} />
        )}
      </main>
    </>
  );
}

adoptHouseStyle();
render(<Desk secret={takeSecret()} />, document.getElementById('desk')!);
