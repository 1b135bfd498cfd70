/**
 * What there is to see, pixel by pixel of the upright picture, in linear light and without time: how well each
 * place reflects the lamp, how much of the LED it shows, and each of the screen's pictures.
 */
import type { PixelRect } from '../clip/frameSource.js';
import { hashWords } from './random.js';
import type { Scene } from './scene.js';

const BENCH_GRAIN = 21;
const SCREEN_GRAIN = 22;
const SPRITE_GRAIN = 23;

/** Reflectances of the things in the room (grey card 0.18, black plastic 0.03: usual photographic values). */
const BENCH_REFLECTANCE = 0.2;
const BOX_REFLECTANCE = 0.035;
const BEZEL_REFLECTANCE = 0.025;
const GLASS_REFLECTANCE = 0.012;

/** Smooth noise in -1..1: values on a lattice of `cellPx`, blended by a cubic. */
function softNoise(seed: number, x: number, y: number, cellPx: number): number {
  const gx = x / cellPx;
  const gy = y / cellPx;
  const ix = Math.floor(gx);
  const iy = Math.floor(gy);
  const at = (i: number, j: number): number => hashWords(seed, i, j) / 2147483648 - 1;
  const fade = (t: number): number => t * t * (3 - 2 * t);
  const fx = fade(gx - ix);
  const fy = fade(gy - iy);
  const upper = at(ix, iy) + (at(ix + 1, iy) - at(ix, iy)) * fx;
  const lower = at(ix, iy + 1) + (at(ix + 1, iy + 1) - at(ix, iy + 1)) * fx;
  return upper + (lower - upper) * fy;
}

/** Two sizes of smooth noise together, -1..1. */
function grain(seed: number, x: number, y: number, coarsePx: number, finePx: number): number {
  return 0.65 * softNoise(seed, x, y, coarsePx) + 0.35 * softNoise(seed + 1, x, y, finePx);
}

/** Whether the pixel (x, y) belongs to a rectangle grown by `marginPx` on each side. */
export function covers(rect: PixelRect, x: number, y: number, marginPx = 0): boolean {
  return (
    x >= rect.x - marginPx &&
    y >= rect.y - marginPx &&
    x < rect.x + rect.width + marginPx &&
    y < rect.y + rect.height + marginPx
  );
}

/** Share of the lamp's light that the pixel sends to the camera, 0..1. */
export function reflectanceAt(scene: Scene, x: number, y: number): number {
  const { screen, led, room, picture, seed } = scene;
  if (covers(screen.rect, x, y)) return GLASS_REFLECTANCE;
  if (covers(screen.rect, x, y, screen.bezelPx)) {
    const upperEdge = y - (screen.rect.y - screen.bezelPx);
    return BEZEL_REFLECTANCE * (upperEdge < 1 ? 2 : 1);
  }
  const halfWidth = Math.max(1.6 * led.widthPx, 0.045 * picture.widthPx);
  const halfHeight = Math.max(1.6 * led.heightPx, 0.06 * picture.heightPx);
  const fromLeft = Math.abs(x + 0.5 - led.centerXPx) / halfWidth;
  const fromTop = Math.abs(y + 0.5 - led.centerYPx) / halfHeight;
  if (fromLeft ** 6 + fromTop ** 6 < 1) {
    // A dark box, a little lighter towards its upper edge.
    return BOX_REFLECTANCE * (1 + 0.5 * Math.max(0, (led.centerYPx - y) / halfHeight));
  }
  const shade = 1.12 - (0.3 * y) / picture.heightPx;
  const coarsePx = Math.max(6, picture.widthPx / 24);
  const wood = grain(hashWords(seed, BENCH_GRAIN), x, 2.5 * y, coarsePx, Math.max(2, coarsePx / 6));
  return BENCH_REFLECTANCE * shade * (1 + room.textureDepth * wood);
}

/** How much of the LED's light the pixel shows: 1 on its body, the halo's share beside it, 0 far away. */
export function ledShareAt(scene: Scene, x: number, y: number): number {
  const { led } = scene;
  const dx = Math.abs(x + 0.5 - led.centerXPx);
  const dy = Math.abs(y + 0.5 - led.centerYPx);
  const halfX = led.widthPx / 2;
  const halfY = led.heightPx / 2;
  let outsidePx: number;
  if (led.shape === 'rect') {
    outsidePx = Math.hypot(Math.max(0, dx - halfX), Math.max(0, dy - halfY));
    if (dx <= halfX && dy <= halfY) outsidePx = Math.max(dx - halfX, dy - halfY);
  } else {
    outsidePx = (Math.hypot(dx / halfX, dy / halfY) - 1) * Math.min(halfX, halfY);
  }
  // One pixel of soft edge around the body stands for the lens.
  const body = Math.min(1, Math.max(0, 0.5 - outsidePx));
  const halo =
    led.haloRadiusPx > 0 ? led.haloShare * Math.exp(-Math.max(0, outsidePx) / led.haloRadiusPx) : 0;
  const share = Math.max(body, halo);
  return share < 1e-4 ? 0 : share;
}

function stillTexture(scene: Scene, x: number, y: number, step = 0): number {
  const coarsePx = Math.max(4, scene.screen.rect.width / 16);
  const shifted = x + step * (scene.content.scroll?.pxPerStep ?? 0);
  const texture = grain(hashWords(scene.seed, SCREEN_GRAIN), shifted, y, coarsePx, coarsePx / 3);
  return 1 + scene.content.textureDepth * texture;
}

/** The figure's own brightness around a mean of one: a front and a back that cannot be confused. */
function figureAt(seed: number, across: number, down: number, contrast: number): number {
  const frontOrBack = Math.tanh(7 * (across - 0.5));
  const limbs = softNoise(hashWords(seed, SPRITE_GRAIN), across * 5, down * 5, 1);
  return Math.max(0.02, 1 + contrast * (0.65 * frontOrBack + 0.35 * limbs));
}

function spriteLight(scene: Scene, picture: number, x: number, y: number): number | null {
  const { content } = scene;
  const { sprite, rect } = content;
  if (!sprite) return null;
  const leftPx =
    rect.x + (rect.width - sprite.widthPx - sprite.jumpPx) / 2 + (picture === 1 ? sprite.jumpPx : 0);
  const topPx = rect.y + (rect.height - sprite.heightPx) / 2;
  let across = (x + 0.5 - leftPx) / sprite.widthPx;
  const down = (y + 0.5 - topPx) / sprite.heightPx;
  if (across < 0 || across > 1 || down < 0 || down > 1) return null;
  if ((2 * across - 1) ** 4 + (2 * down - 1) ** 4 > 1) return null;
  if (sprite.move === 'mirror' && picture === 1) across = 1 - across;
  return content.backgroundLight * figureAt(scene.seed, across, down, sprite.contrast);
}

/**
 * Light of the part that answers (`content.rect`), share of the screen's white, in picture 0 (rest) or 1 (of a menu:
 * the highlighted item), over the still picture at place `step` of its scrolling.
 */
export function contentLightAt(scene: Scene, picture: number, x: number, y: number, step = 0): number {
  const { content } = scene;
  if (content.kind === 'sprite') {
    return spriteLight(scene, picture, x, y) ?? content.backgroundLight * stillTexture(scene, x, y, step);
  }
  const { menuItems, rect } = content;
  const active =
    menuItems === undefined
      ? picture !== 0
      : Math.floor(((y + 0.5 - rect.y) / rect.height) * menuItems) === picture;
  return (active ? content.activeLight : content.restLight) * stillTexture(scene, x, y);
}

/** Light of the still part of the screen, share of the screen's white, at place `step` of its scrolling. */
export function stillLightAt(scene: Scene, x: number, y: number, step = 0): number {
  return scene.content.backgroundLight * stillTexture(scene, x, y, step);
}

/** How much of the second LED's light the pixel shows: 1 on its body, 0 outside; one pixel of soft edge. */
export function secondLedShareAt(scene: Scene, x: number, y: number): number {
  const led = scene.room.secondLed;
  if (!led) return 0;
  const outsidePx = Math.hypot(x + 0.5 - led.centerXPx, y + 0.5 - led.centerYPx) - led.widthPx / 2;
  return Math.min(1, Math.max(0, 0.5 - outsidePx));
}

/** Light of the part that moves all the time (`content.idle.rect`) at one of its steps: a bar that walks along. */
export function idleLightAt(scene: Scene, step: number, x: number, y: number): number {
  const idle = scene.content.idle;
  if (!idle) return 0;
  const barPx = idle.rect.width / idle.steps;
  const place = Math.floor((x - idle.rect.x) / barPx);
  return place === step ? idle.light : scene.content.backgroundLight * stillTexture(scene, x, y);
}
