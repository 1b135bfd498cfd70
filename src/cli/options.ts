/** Options that several commands share, and how their text becomes values. */
import { InvalidArgumentError } from 'commander';
import type { Recipe } from '../record/recipe.js';
import type { Region } from '../region/region.js';

/** A number in a range, for commander; the message names the range and the unit. */
export function numberOption(what: string, low: number, high: number): (text: string) => number {
  return (text) => {
    const value = Number(text);
    if (text.trim() === '' || !Number.isFinite(value) || value < low || value > high) {
      throw new InvalidArgumentError(`${what} must be a number from ${low} to ${high}, got "${text}".`);
    }
    return value;
  };
}

/** `name=role:x,y,width,height`, collected over repeated options. */
export function regionOption(text: string, before: readonly Region[] = []): Region[] {
  const match = /^([^=]+)=(led|screen|reference):(\d+),(\d+),(\d+),(\d+)$/.exec(text);
  if (!match) {
    throw new InvalidArgumentError(
      `a region is name=role:x,y,width,height with the role led, screen or reference (for example top=screen:600,80,320,60), got "${text}".`,
    );
  }
  const [, name, role, x, y, width, height] = match;
  const region: Region = {
    name: name!,
    role: role as Region['role'],
    x: Number(x),
    y: Number(y),
    width: Number(width),
    height: Number(height),
  };
  return [...before, region];
}

/** `key=value`, collected over repeated options. */
export function labelOption(
  text: string,
  before: Readonly<Record<string, string>> = {},
): Record<string, string> {
  const at = text.indexOf('=');
  if (at < 1)
    throw new InvalidArgumentError(`a label is key=value (for example chain=Birch), got "${text}".`);
  return { ...before, [text.slice(0, at)]: text.slice(at + 1) };
}

/** `from:to` in ms. */
export function windowOption(text: string): readonly [number, number] {
  const parts = text.split(':').map(Number);
  const [from, to] = parts;
  if (parts.length !== 2 || !Number.isFinite(from) || !Number.isFinite(to) || from! >= to!) {
    throw new InvalidArgumentError(`a window is from:to in ms (for example 0:500), got "${text}".`);
  }
  return [from!, to!];
}

/** What the options of `measure` and `inspect` say about a clip. */
export interface ClipOptions {
  readonly region?: readonly Region[];
  readonly refresh?: number;
  readonly captureRate?: number;
  readonly exposure?: number;
  readonly readout?: number;
  readonly level?: number;
  readonly window?: readonly [number, number];
  readonly edge?: 'press' | 'release';
  readonly label?: Readonly<Record<string, string>>;
}

/** A recipe with the options of this call laid over it; the recipe's own decisions stay. */
export function overlayOptions(recipe: Recipe, options: ClipOptions): Recipe {
  const named = new Set(options.region?.map((r) => r.name));
  const replacesLed = options.region?.some((r) => r.role === 'led') ?? false;
  const kept = recipe.regions.filter((r) => !named.has(r.name) && !(replacesLed && r.role === 'led'));
  return {
    ...recipe,
    labels: { ...recipe.labels, ...options.label },
    regions: [...kept, ...(options.region ?? [])],
    capture: {
      rateHz: options.captureRate ?? recipe.capture.rateHz,
      exposureFraction: options.exposure ?? recipe.capture.exposureFraction,
      readoutFraction: options.readout ?? recipe.capture.readoutFraction,
    },
    display: { refreshHz: options.refresh ?? recipe.display.refreshHz },
    cue: { ...recipe.cue, edge: options.edge ?? recipe.cue.edge },
    response: {
      level: options.level ?? recipe.response.level,
      windowMs: options.window ?? recipe.response.windowMs,
    },
  };
}
