/** What part of the picture is seen: a zoom factor and a centre, always so that the view lies on the picture. */

/** `zoom` 1 shows the whole picture; centre as a share of width and height, 0..1. */
export interface PictureView {
  readonly zoom: number;
  readonly centreX: number;
  readonly centreY: number;
}

/** The whole picture. */
export const WHOLE_PICTURE: PictureView = { zoom: 1, centreX: 0.5, centreY: 0.5 };

/** The furthest that one can go in. */
export const MOST_ZOOM = 16;

const between = (value: number, low: number, high: number): number => Math.min(high, Math.max(low, value));

/** The nearest view that shows nothing beside the picture. */
export function settled(view: PictureView): PictureView {
  const zoom = between(view.zoom, 1, MOST_ZOOM);
  const half = 0.5 / zoom;
  return {
    zoom,
    centreX: between(view.centreX, half, 1 - half),
    centreY: between(view.centreY, half, 1 - half),
  };
}

/** Zooms by a factor; the point `atX`, `atY` (shares of the picture) stays where it is on the screen. */
export function zoomed(view: PictureView, factor: number, atX: number, atY: number): PictureView {
  const zoom = between(view.zoom * factor, 1, MOST_ZOOM);
  const ratio = view.zoom / zoom;
  return settled({
    zoom,
    centreX: atX + (view.centreX - atX) * ratio,
    centreY: atY + (view.centreY - atY) * ratio,
  });
}

/** Moves the view by shares of what is seen: 0.1 to the right shows what was a tenth further right. */
export function panned(view: PictureView, byX: number, byY: number): PictureView {
  return settled({
    ...view,
    centreX: view.centreX + byX / view.zoom,
    centreY: view.centreY + byY / view.zoom,
  });
}

/** Left upper corner of the picture in the window, and its size, in sizes of the window. */
export function placement(view: PictureView): { left: number; top: number; size: number } {
  return {
    left: 0.5 - view.centreX * view.zoom,
    top: 0.5 - view.centreY * view.zoom,
    size: view.zoom,
  };
}

/** The point of the picture (shares, 0..1 inside it) under a point of the window (shares). */
export function pictureShare(view: PictureView, windowX: number, windowY: number): { x: number; y: number } {
  const { left, top, size } = placement(view);
  return { x: (windowX - left) / size, y: (windowY - top) / size };
}
