/** Where a person would put the regions on a simulated clip, upright px. */
import type { PixelRect } from '../clip/frameSource.js';
import type { Scene } from './scene.js';

/** The LED with some of its glow, and the part of the screen that answers (its middle, where it fills the screen). */
export interface SceneRegions {
  readonly led: PixelRect;
  readonly screen: PixelRect;
}

/** Regions of a scene. `share` is the region's width and height as a share of the screen's, for full-screen answers. */
export function sceneRegions(scene: Scene, share = 0.2): SceneRegions {
  const { led, content, screen, picture } = scene;
  const half =
    0.5 * Math.max(led.widthPx, led.heightPx) + Math.max(2, led.haloRadiusPx) + 2 * scene.camera.shakePx;
  const left = Math.max(0, Math.floor(led.centerXPx - half));
  const top = Math.max(0, Math.floor(led.centerYPx - half));
  const around = {
    x: left,
    y: top,
    width: Math.min(picture.widthPx, Math.ceil(led.centerXPx + half)) - left,
    height: Math.min(picture.heightPx, Math.ceil(led.centerYPx + half)) - top,
  };
  const whole =
    content.rect.width >= 0.9 * screen.rect.width && content.rect.height >= 0.9 * screen.rect.height;
  const width = whole ? Math.max(4, Math.round(share * screen.rect.width)) : content.rect.width;
  const height = whole ? Math.max(4, Math.round(share * screen.rect.height)) : content.rect.height;
  return {
    led: around,
    screen: {
      x: content.rect.x + Math.floor((content.rect.width - width) / 2),
      y: content.rect.y + Math.floor((content.rect.height - height) / 2),
      width,
      height,
    },
  };
}
