/** Where one is in the desk, as the fragment of the address. The first fragment of all is the secret of this run. */

/** The desk's places. */
export type Route =
  | { readonly view: 'folder' }
  | { readonly view: 'compare' }
  | { readonly view: 'clip' | 'presses' | 'numbers'; readonly clip: string; readonly press: number | null };

/** A secret is one word of at least 16 letters, digits, `-` and `_`; a place begins with `/`. */
export function secretIn(fragment: string): string | null {
  return /^#?([\w-]{16,})$/.exec(fragment)?.[1] ?? null;
}

/** The place that a fragment names; the folder where it names none. */
export function routeOf(fragment: string): Route {
  const [, first, id, view, press] = fragment.replace(/^#/, '').split('/');
  if (first === 'compare') return { view: 'compare' };
  if (first !== 'clip' || !id) return { view: 'folder' };
  const clip = readable(id);
  if (clip === null) return { view: 'folder' };
  const number = /^\d{1,6}$/.test(press ?? '') ? Number(press) : null;
  if (view === 'presses' || view === 'numbers') return { view, clip, press: number };
  return { view: 'clip', clip, press: null };
}

/** The fragment of a place. */
export function fragmentOf(route: Route): string {
  if (route.view === 'folder') return '#/';
  if (route.view === 'compare') return '#/compare';
  const clip = `#/clip/${encodeURIComponent(route.clip)}`;
  if (route.view === 'clip') return clip;
  return route.press === null ? `${clip}/${route.view}` : `${clip}/${route.view}/${route.press}`;
}

function readable(text: string): string | null {
  try {
    return decodeURIComponent(text);
  } catch {
    return null;
  }
}
