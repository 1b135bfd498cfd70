/** A scene whose screen shows a menu. */
import type { Scene } from '../src/simulate/scene.js';

/** Four items in a part of the screen, one of them lit. */
export function asMenu(scene: Scene): Scene {
  const { screen, content } = scene;
  const rect = {
    x: screen.rect.x + Math.round(0.2 * screen.rect.width),
    y: screen.rect.y + Math.round(0.15 * screen.rect.height),
    width: Math.round(0.5 * screen.rect.width),
    height: Math.round(0.6 * screen.rect.height),
  };
  return { ...scene, content: { ...content, rect, restLight: 0.15, activeLight: 0.7, menuItems: 4 } };
}
