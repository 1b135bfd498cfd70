/** Options that several commands share, and how their text becomes values. */
import { type Command, InvalidArgumentError } from 'commander';
import { VIDEO_MODE_NAMES, videoMode } from '../index.js';
import type { BudgetStage } from '../record/comparison.js';
import type { Recipe } from '../record/recipe.js';
import type { Region } from '../region/region.js';

type DisplayScan = NonNullable<Recipe['display']['scan']>;

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

/** Label keys, `chain,mode`. */
export function keysOption(text: string): string[] {
  const keys = text.split(',').map((key) => key.trim());
  if (keys.every((key) => key !== '') && new Set(keys).size === keys.length) return keys;
  throw new InvalidArgumentError(
    `label keys are given as KEY or KEY,KEY (for example chain,mode), got "${text}".`,
  );
}

/** `key=value,key=value`. */
export function labelsOption(text: string): Record<string, string> {
  return text.split(',').reduce((labels, part) => labelOption(part.trim(), labels), {});
}

/** `name=value` or `name=value+-half` in ms (also with a plus-minus sign), collected over repeated options. */
export function stageOption(text: string, before: readonly BudgetStage[] = []): BudgetStage[] {
  const match = /^(.*\S)\s*=\s*(-?\d+(?:\.\d+)?)\s*(?:(?:\u00b1|\+\/?-)\s*(\d+(?:\.\d+)?))?\s*(?:ms)?$/.exec(
    text.trim(),
  );
  if (!match) {
    throw new InvalidArgumentError(
      `a stage is NAME=MS or NAME=MS+-HALFWIDTH (for example "living-room panel=16.7+-2"), got "${text}".`,
    );
  }
  const [, name, value, half] = match;
  return [...before, { name: name!, valueMs: Number(value), halfWidthMs: Number(half ?? 0) }];
}

/** A clip to write: only MP4 can be written, so another ending would be a wrong promise. */
export function outputOption(text: string): string {
  if (/[^/\\]\.mp4$/.test(text)) return text;
  throw new InvalidArgumentError(`a simulated clip is written as NAME.mp4, got "${text}".`);
}

/** One region with the role reference. */
export function oneReferenceOption(text: string): Region {
  const region = regionOption(text)[0]!;
  if (region.role === 'reference') return region;
  throw new InvalidArgumentError(
    `the light is a region with the role reference (for example lamp=reference:200,0,160,540), got "${text}".`,
  );
}

/** A camera file to write: JSON, so that a clip is not overwritten by a slip. */
export function cameraFileOption(text: string): string {
  if (/[^/\\]\.json$/.test(text)) return text;
  throw new InvalidArgumentError(`a camera file is written as NAME.json, got "${text}".`);
}

/** A whole number in a range, for commander. */
export function wholeOption(what: string, low: number, high: number): (text: string) => number {
  return (text) => {
    if (/^\d+$/.test(text) && Number(text) >= low && Number(text) <= high) return Number(text);
    throw new InvalidArgumentError(`${what} must be a whole number from ${low} to ${high}, got "${text}".`);
  };
}

/** `WIDTHxHEIGHT` in px, even numbers (the colour planes have half the size). */
export function sizeOption(text: string): readonly [number, number] {
  const match = /^(\d{2,4})x(\d{2,4})$/.exec(text);
  const [width, height] = [Number(match?.[1]), Number(match?.[2])];
  if (width % 2 === 0 && height % 2 === 0) return [width, height];
  throw new InvalidArgumentError(`a size is WIDTHxHEIGHT in even px (for example 480x270), got "${text}".`);
}

/** `from:to` in ms. */
export function windowOption(text: string): readonly [number, number] {
  const match = /^(-?\d+(?:\.\d+)?):(-?\d+(?:\.\d+)?)$/.exec(text);
  const [from, to] = [Number(match?.[1]), Number(match?.[2])];
  if (!(from < to)) {
    throw new InvalidArgumentError(`a window is from:to in ms (for example 0:500), got "${text}".`);
  }
  return [from, to];
}

/** `top:bottom` in px, or `top:bottom:mode`. */
export function scanOption(text: string): DisplayScan {
  const match = /^(\d{1,5}):(\d{1,5})(?::(.+))?$/.exec(text);
  const [topPx, bottomPx, mode] = [Number(match?.[1]), Number(match?.[2]), match?.[3]];
  if (!(topPx < bottomPx)) {
    throw new InvalidArgumentError(
      `a scan is TOP:BOTTOM or TOP:BOTTOM:MODE in px of the upright picture (for example 80:640:1080p60), got "${text}".`,
    );
  }
  if (mode === undefined) return { topPx, bottomPx };
  if (videoMode(mode) === null) {
    throw new InvalidArgumentError(`a signal is one of ${VIDEO_MODE_NAMES}, got "${mode}".`);
  }
  return { topPx, bottomPx, mode };
}

/** Adds the options that `measure` and `inspect` share: what is known about a clip. */
export function addClipOptions(command: Command): Command {
  return command
    .option('--recipe <file>', "a person's decisions (default: NAME.recipe.json beside the clip)")
    .option('--no-recipe', 'use no recipe: find the regions anew')
    .option(
      '--region <name=role:x,y,w,h>',
      'a region in px of the upright picture, role led, screen or reference (may be repeated)',
      regionOption,
    )
    .option('--refresh <hz>', 'refresh rate of the display under test', numberOption('--refresh', 1, 1000))
    .option('--capture-rate <hz>', 'true rate while filming', numberOption('--capture-rate', 20, 4000))
    .option(
      '--exposure <fraction>',
      'shutter open time over capture period',
      numberOption('--exposure', 0.005, 1),
    )
    .option(
      '--readout <fraction>',
      'time from the first to the last sensor row over capture period',
      numberOption('--readout', 0, 1),
    )
    .option(
      '--scan <top:bottom[:mode]>',
      "upright px rows of the display's first and last line, and its signal (for example 80:640:1080p60): tells the readout",
      scanOption,
    );
}

/** What the options of `measure` and `inspect` say about a clip. */
export interface ClipOptions {
  /** A path; false for `--no-recipe`. Commander gives true where neither was said. */
  readonly recipe?: string | boolean;
  readonly region?: readonly Region[];
  readonly refresh?: number;
  readonly captureRate?: number;
  readonly exposure?: number;
  readonly readout?: number;
  readonly scan?: DisplayScan;
  readonly level?: number;
  readonly window?: readonly [number, number];
  readonly edge?: 'press' | 'release';
  readonly label?: Readonly<Record<string, string>>;
}

/** The recipe that was asked for, as the library wants it. */
export function recipePathOf({ recipe }: ClipOptions): { readonly recipePath?: string | null } {
  if (recipe === false) return { recipePath: null };
  return typeof recipe === 'string' ? { recipePath: recipe } : {};
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
    display: {
      ...recipe.display,
      refreshHz: options.refresh ?? recipe.display.refreshHz,
      ...(options.scan ? { scan: options.scan } : {}),
    },
    cue: { ...recipe.cue, edge: options.edge ?? recipe.cue.edge },
    response: {
      level: options.level ?? recipe.response.level,
      windowMs: options.window ?? recipe.response.windowMs,
    },
  };
}
