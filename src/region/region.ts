/** Where to look: a named rectangle of the upright picture with a role. */
import type { PixelRect } from '../clip/frameSource.js';

/** `led` shows the press, `screen` shows the response, `reference` shows the lamp and nothing else. */
export type RegionRole = 'led' | 'screen' | 'reference';

/** A region in pixels of the upright picture. */
export interface Region extends PixelRect {
  readonly name: string;
  readonly role: RegionRole;
  /** Labels of its own, where two chains are filmed side by side. */
  readonly labels?: Readonly<Record<string, string>>;
}
