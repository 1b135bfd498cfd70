/** Refuses scenes that no filmed test could have. */
import type { PixelRect } from '../clip/frameSource.js';
import { expected } from '../errors.js';
import type { Scene } from './scene.js';

function inside(inner: PixelRect, outer: PixelRect): boolean {
  return (
    inner.width >= 1 &&
    inner.height >= 1 &&
    inner.x >= outer.x &&
    inner.y >= outer.y &&
    inner.x + inner.width <= outer.x + outer.width &&
    inner.y + inner.height <= outer.y + outer.height
  );
}

/** Throws a `UsageError` on the first value that no filmed test could have. Returns the scene. */
export function checkScene(scene: Scene): Scene {
  const { picture, screen, content, camera, led, room } = scene;
  const whole = { x: 0, y: 0, width: picture.widthPx, height: picture.heightPx };
  const need = (ok: boolean, name: string, rule: string, actual: unknown): void => {
    if (!ok)
      throw expected(`scene.${name}`, rule, typeof actual === 'object' ? JSON.stringify(actual) : actual);
  };
  const size = (n: number): boolean => Number.isInteger(n) && n >= 16 && n <= 4096 && n % 2 === 0;
  need(Number.isInteger(scene.seed), 'seed', 'a whole number', scene.seed);
  need(size(picture.widthPx), 'picture.widthPx', 'an even whole number from 16 to 4096', picture.widthPx);
  need(size(picture.heightPx), 'picture.heightPx', 'an even whole number from 16 to 4096', picture.heightPx);
  need(inside(screen.rect, whole), 'screen.rect', 'inside the picture', screen.rect);
  need(inside(content.rect, screen.rect), 'content.rect', 'inside the screen', content.rect);
  need(screen.refreshHz > 0, 'screen.refreshHz', 'positive', screen.refreshHz);
  need(screen.phase >= 0 && screen.phase < 1, 'screen.phase', 'from 0 to below 1', screen.phase);
  need(
    screen.activeFraction > 0 && screen.activeFraction <= 1,
    'screen.activeFraction',
    'above 0 and at most 1',
    screen.activeFraction,
  );
  const idle = content.idle?.rect;
  if (idle) need(inside(idle, screen.rect), 'content.idle.rect', 'inside the screen', idle);
  need(
    (content.kind === 'sprite') === (content.sprite !== null),
    'content.sprite',
    'given for sprites only',
    content,
  );
  const { scroll, menuItems } = content;
  if (scroll)
    need(scroll.steps >= 2 && !content.idle, 'content.scroll', 'two or more steps and no idle part', scroll);
  if (menuItems !== undefined)
    need(
      content.kind === 'toggle' && menuItems >= 2,
      'content.menuItems',
      '2 or more, of a toggle',
      menuItems,
    );
  if (room.reflection)
    need(inside(room.reflection.rect, whole), 'room.reflection.rect', 'inside', room.reflection);
  need(led.widthPx > 0 && led.heightPx > 0, 'led.widthPx', 'positive', led.widthPx);
  need(
    camera.exposureFraction > 0 && camera.exposureFraction <= 1,
    'camera.exposureFraction',
    'above 0 and at most 1',
    camera.exposureFraction,
  );
  need(
    camera.readoutFraction >= 0 && camera.readoutFraction <= 1,
    'camera.readoutFraction',
    'from 0 to 1',
    camera.readoutFraction,
  );
  need(camera.captureRateHz > 0, 'camera.captureRateHz', 'positive', camera.captureRateHz);
  need(
    Number.isInteger(camera.frames) && camera.frames > 0,
    'camera.frames',
    'a positive whole number',
    camera.frames,
  );
  need(scene.latency.fixedDelayMs >= 0, 'latency.fixedDelayMs', 'not negative', scene.latency.fixedDelayMs);
  need(scene.presses.intervalMinS > 0, 'presses.intervalMinS', 'positive', scene.presses.intervalMinS);
  return scene;
}
