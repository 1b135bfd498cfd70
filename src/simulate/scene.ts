/**
 * A filmed latency test as plain data: picture, LED, screen, room, camera, presses and the chain's latency law.
 * Places are pixels of the upright picture; light is linear, 1 is the light that a white sensor value stands for
 * at a camera gain of 1. Every random draw follows from `seed`.
 */
import type { PixelRect } from '../clip/frameSource.js';
import type { CodeRange } from '../units.js';

/** The button's LED. */
export interface SceneLed {
  readonly shape: 'rect' | 'disc';
  /** Centre, upright px, where the middle of the first pixel is 0.5. */
  readonly centerXPx: number;
  readonly centerYPx: number;
  /** Full width and height (disc: of its bounding box), px. */
  readonly widthPx: number;
  readonly heightPx: number;
  /** Distance over which the glow around the body falls to 1/e of `haloShare`, px; 0 for none. */
  readonly haloRadiusPx: number;
  /** Glow just outside the body as a share of the body's light. */
  readonly haloShare: number;
  readonly offLight: number;
  readonly onLight: number;
  /** Linear rise and fall, ms; the press is its beginning. */
  readonly riseMs: number;
  /** Brightness control by pulses, started afresh at each switching on; `onLight` is the mean. Null: steady. */
  readonly pwm: { readonly rateHz: number; readonly duty: number } | null;
  /** Whether the press lights the LED or puts it out. */
  readonly edge: 'lights-on-press' | 'goes-off-on-press';
  /** How long the button stays down, s. */
  readonly holdS: number;
  /** Times after a press at which the contact opens again for a moment; left out: a clean contact. */
  readonly bounces?: readonly { readonly afterMs: number; readonly openMs: number }[];
}

/** How a display makes light out of a picture. */
export type DisplayKind =
  /** Steady backlight behind cells that settle exponentially. */
  | {
      readonly kind: 'panel';
      readonly riseTauMs: number;
      readonly fallTauMs: number;
      /** Drive beyond the target: the step response is 1 - (1+amplitude) exp(-t/tau) + amplitude exp(-t/relax). */
      readonly overshoot: { readonly amplitude: number; readonly relaxMs: number } | null;
    }
  /** Each pixel lights by itself, within tenths of a millisecond. */
  | { readonly kind: 'oled'; readonly tauMs: number }
  /** One flash of phosphor per refresh, as the beam passes; light dies away exponentially. */
  | { readonly kind: 'tube'; readonly decayMs: number }
  /** Cells that settle exponentially, made visible by one backlight pulse a refresh for the whole screen. */
  | {
      readonly kind: 'strobed';
      readonly riseTauMs: number;
      readonly fallTauMs: number;
      /** Start of the pulse and its length, as shares of a refresh from the display frame's start. */
      readonly pulseStart: number;
      readonly pulseShare: number;
    }
  /** Cells before a backlight that is dimmed by pulses, not locked to the refresh. */
  | {
      readonly kind: 'pwm';
      readonly riseTauMs: number;
      readonly fallTauMs: number;
      readonly rateHz: number;
      readonly duty: number;
    };

/** The screen under test. */
export interface SceneScreen {
  readonly rect: PixelRect;
  readonly refreshHz: number;
  /** Start of a display frame's scan on the capture clock as a share of a refresh, 0 <= phase < 1. */
  readonly phase: number;
  /** Share of a refresh in which the lines are drawn; the rest is blanking. */
  readonly activeFraction: number;
  readonly direction: 'down' | 'up' | 'all-at-once';
  readonly display: DisplayKind;
  /** Light of the screen's white, averaged over a refresh. */
  readonly whiteLight: number;
  /** Width of the dark frame around the screen, px. */
  readonly bezelPx: number;
}

/** What the screen shows; all lights are shares of the screen's white. */
export interface SceneContent {
  /** `darken` and `low-contrast` are flashes with a falling or a small step. */
  readonly kind: 'flash' | 'toggle' | 'patch' | 'sprite' | 'darken' | 'low-contrast';
  /** The part of the screen that answers, upright px, inside the screen. */
  readonly rect: PixelRect;
  /** Mean of the still picture around and under the part that answers. */
  readonly backgroundLight: number;
  /** Light of the part that answers, before and after; unused by `sprite`. */
  readonly restLight: number;
  readonly activeLight: number;
  /** Relative depth of the still texture, 0..1. */
  readonly textureDepth: number;
  /** Display frames until the picture falls back; unused by `toggle`. */
  readonly holdDisplayFrames: number;
  /** A figure inside `rect` that turns round or jumps; null unless the kind is `sprite`. */
  readonly sprite: {
    readonly move: 'mirror' | 'jump';
    readonly widthPx: number;
    readonly heightPx: number;
    /** Distance of the jump to the right, px; 0 for `mirror`. */
    readonly jumpPx: number;
    /** Relative depth of the figure's own pattern, 0..1. */
    readonly contrast: number;
  } | null;
  /** Something that moves all the time elsewhere on the screen (apart from `rect`). */
  readonly idle: {
    readonly rect: PixelRect;
    readonly steps: number;
    readonly displayFramesPerStep: number;
    readonly light: number;
  } | null;
  /**
   * With `toggle`: the part that answers is a menu of so many items (2 or more), one of them highlighted
   * (`activeLight`); each press moves the highlight to the next one. Left out: no menu.
   */
  readonly menuItems?: number;
  /** The still picture moves to and fro sideways over `steps` places (2 or more; with `idle` null); left out: it is still. */
  readonly scroll?: {
    readonly steps: number;
    readonly pxPerStep: number;
    readonly displayFramesPerStep: number;
  };
}

/** Everything that is lit by the lamp. */
export interface SceneRoom {
  /** Light of a perfectly white surface. */
  readonly ambientLight: number;
  /** Mains ripple of the lamp: light frequency (100 or 120 Hz), relative depth, phase as a share of a period. */
  readonly ripple: { readonly rateHz: number; readonly depth: number; readonly phase: number } | null;
  /** Relative depth of the bench's grain, 0..1. */
  readonly textureDepth: number;
  /** The screen mirrored upside down in a shiny surface; `share` of its light comes back. */
  readonly reflection: { readonly rect: PixelRect; readonly share: number } | null;
  /** Another LED in view, a disc, that blinks by itself (`duty` 1: always lit); left out: none. */
  readonly secondLed?: {
    readonly centerXPx: number;
    readonly centerYPx: number;
    readonly widthPx: number;
    readonly light: number;
    readonly periodS: number;
    readonly duty: number;
    readonly phase: number;
  };
  /** Somebody who walks past the lamp: a soft shadow that crosses the coded picture sideways; left out: nobody. */
  readonly passer?: {
    /** When the shadow's middle is at the picture's middle, s, and how long it takes to cross the picture, s. */
    readonly middleS: number;
    readonly crossS: number;
    readonly widthPx: number;
    /** Share of the lamp's light that is taken away in the middle of the shadow. */
    readonly depth: number;
  };
  /** A thumb that slides from the left over a part of the coded picture and back; left out: none. */
  readonly thumb?: {
    readonly rect: PixelRect;
    readonly reflectance: number;
    readonly slideS: number;
    /** When it lies over the whole rectangle, s. */
    readonly moments: readonly { readonly fromS: number; readonly toS: number }[];
  };
}

/** How sensor values become code values: a standard transfer, or a phone's steeper curve (tagged BT.709). */
export type ToneCurve = 'bt709' | 'srgb' | 'hlg' | 'linear' | 'phone';

/** The camera. */
export interface SceneCamera {
  readonly captureRateHz: number;
  /** Frames captured, including those listed in `droppedFrames`. */
  readonly frames: number;
  /** e: shutter open time / capture period, 0 < e <= 1. */
  readonly exposureFraction: number;
  /** rho: start of exposure of coded row y is rho * y / codedHeight periods after that of row 0. */
  readonly readoutFraction: number;
  /** Sensor value = gain * light, white (clipped) at 1. */
  readonly gain: number;
  /** Standard deviation of the noise in the dark, sensor values. */
  readonly readNoise: number;
  /** Standard deviation of the shot noise at white, sensor values; its variance goes with light. */
  readonly shotNoise: number;
  readonly toneCurve: ToneCurve;
  readonly bitDepth: 8 | 10;
  readonly range: CodeRange;
  /** Root mean square of the hand's translation in each direction, px; 0 for a tripod. */
  readonly shakePx: number;
  /** Slow wandering of the automatic exposure: relative depth and period. */
  readonly drift: { readonly depth: number; readonly periodS: number } | null;
  /** Sudden changes of the automatic exposure: from `atS` on the gain is `factor` times the usual; left out: none. */
  readonly exposureSteps?: readonly { readonly atS: number; readonly factor: number }[];
  /** Slow turning of the hand (amplitude, degrees) and breathing of the focus (amplitude of the scale); left out: none. */
  readonly wobble?: { readonly turnDeg: number; readonly zoom: number; readonly periodS: number };
  /** Capture indices (0-based, not 0) that never reach the file: a gap in the timestamps. */
  readonly droppedFrames: readonly number[];
  /** Capture indices (0-based, not 0) that show the picture before once more. */
  readonly doubledFrames: readonly number[];
  /** Rate at which the file plays; null: as captured. */
  readonly storedRateHz: number | null;
  /** Whether the file says at which rate it was captured. */
  readonly captureTag: boolean;
}

/** When the button is pressed, and what goes wrong. Press numbers are 0-based. */
export interface ScenePresses {
  readonly count: number;
  /** Earliest first press, s on the capture clock. */
  readonly leadInS: number;
  /** Intervals are uniform between these, s. */
  readonly intervalMinS: number;
  readonly intervalMaxS: number;
  /** Presses that the chain ignores. */
  readonly ignored: readonly number[];
  /** Presses after which, well before the next, the picture changes once with no press. */
  readonly unpromptedAfter: readonly number[];
  /** Presses that are followed by a second one after `doubleGapS`; the second counts on its own. */
  readonly doubledAt: readonly number[];
  readonly doubleGapS: number;
}

/** The chain's own variability on top of the wait. */
export type JitterLaw =
  | { readonly kind: 'none' }
  | { readonly kind: 'gaussian'; readonly sdMs: number }
  /** Uniform from 0 to `displayFrames` (whole display frames where the chain is locked to the refresh). */
  | { readonly kind: 'uniform'; readonly displayFrames: number }
  /** `displayFrames` more with a probability, else none. */
  | { readonly kind: 'discrete'; readonly displayFrames: number; readonly probability: number };

/** From press to the first line of the changed picture: wait, uniform on [0, one refresh), + fixed delay + jitter. */
export interface SceneLatency {
  readonly fixedDelayMs: number;
  readonly jitter: JitterLaw;
  /** True: changes fall on the display's own frames. False: jitter moves them off (a free-running device). */
  readonly refreshLocked: boolean;
}

/** A whole filmed test. */
export interface Scene {
  readonly name: string;
  /** Whole number. */
  readonly seed: number;
  /** Size of the upright picture, px, and the clockwise turn that the file's tag asks of a player. */
  readonly picture: {
    readonly widthPx: number;
    readonly heightPx: number;
    readonly rotationDeg: 0 | 90 | 180 | 270;
  };
  readonly led: SceneLed;
  readonly screen: SceneScreen;
  readonly content: SceneContent;
  readonly room: SceneRoom;
  readonly camera: SceneCamera;
  readonly presses: ScenePresses;
  readonly latency: SceneLatency;
}
