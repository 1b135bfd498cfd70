/** What a random scene may be drawn from. */
import type { DisplayKind, JitterLaw, SceneContent, SceneLed, ToneCurve } from './scene.js';

/** A range to draw from, both ends included. */
export type Range = readonly [low: number, high: number];

/** What may be drawn; every key left out takes the plain case named beside it. Lists are drawn from evenly. */
export interface SceneOptions {
  /** Upright px: 480 x 270. */
  readonly widthPx?: number;
  readonly heightPx?: number;
  /** [0]. */
  readonly rotationDeg?: readonly (0 | 90 | 180 | 270)[];
  /** [240]. */
  readonly captureRateHz?: readonly number[];
  /** 0.9 to 1. */
  readonly exposureFraction?: Range;
  /** 0.5 to 0.9. */
  readonly readoutFraction?: Range;
  /** Sensor values, 0.002 to 0.006. */
  readonly readNoise?: Range;
  /** Sensor values at white, 0.01 to 0.02. */
  readonly shotNoise?: Range;
  /** ['bt709']. */
  readonly toneCurve?: readonly ToneCurve[];
  /** [8]. */
  readonly bitDepth?: readonly (8 | 10)[];
  /** 0, a tripod. */
  readonly shakePx?: Range;
  /** Relative depth of the lamp's ripple at 100 or 120 Hz: 0. */
  readonly rippleDepth?: Range;
  /** Relative depth of the automatic exposure's wandering: 0. */
  readonly driftDepth?: Range;
  /** ['panel']. */
  readonly display?: readonly DisplayKind['kind'][];
  /** Time constant of panels' brighter changes, ms: 0.5 to 4; darker ones take 0.5 to 1.5 times as long. */
  readonly riseTauMs?: Range;
  /** [60]. */
  readonly refreshHz?: readonly number[];
  /** ['flash']. */
  readonly content?: readonly SceneContent['kind'][];
  /** False: nothing moves on the screen but the answer. */
  readonly idle?: boolean;
  /** False: nothing mirrors the screen. */
  readonly reflection?: boolean;
  /** Sensor values of the lit LED: 0.5 to 0.8; above 1 its body is clipped. */
  readonly ledValue?: Range;
  /** ['lights-on-press']. */
  readonly ledEdge?: readonly SceneLed['edge'][];
  /** 12. */
  readonly presses?: number;
  /** 30 to 90. */
  readonly fixedDelayMs?: Range;
  /** [none]. */
  readonly jitter?: readonly JitterLaw[];
  /** True. */
  readonly refreshLocked?: boolean;
  /** Number of ignored presses, unprompted changes and doubled presses: 0 each. */
  readonly misbehaviour?: number;
}
