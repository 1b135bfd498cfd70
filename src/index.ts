/** The pure library: runs in Node and in a browser, with no file and no decoder. */
export { type Calibration, type CalibrationRequest, calibrateClip } from './calibrate/calibrateClip.js';
export { type CaptureClock, resolveCaptureClock, type UnknownClock } from './clip/captureClock.js';
export type { ClipFacts, FrameSource, FrameTimes, PixelRect } from './clip/frameSource.js';
export { ALLOWANCES, type Allowance, NotComparable } from './compare/comparability.js';
export { type CompareRequest, compareRecords } from './compare/compareRecords.js';
export type { CompareInput } from './compare/measuredRegion.js';
export { AnalysisError, UsageError } from './errors.js';
export { type Inspection, inspectClip } from './inspect.js';
export { type FilmingPlan, type FilmingSetting, planFilming } from './latency/planFilming.js';
export {
  type Measurement,
  type MeasureOptions,
  type MeasureProgress,
  measureClip,
  measureSamples,
  type SamplesKnown,
} from './measure.js';
export { VIDEO_MODE_NAMES, VIDEO_MODES, type VideoMode, videoMode } from './numeric/videoTiming.js';
export { type CameraCalibration, cameraSchema, parseCamera } from './record/camera.js';
export type { Comparison } from './record/comparison.js';
export { comparisonSchema, parseComparison } from './record/comparisonSchema.js';
export { type JsonSchema, jsonSchemas } from './record/jsonSchemas.js';
export { emptyRecipe, parseRecipe, recipeSchema } from './record/parseRecipe.js';
export { parseRecord, recordSchema } from './record/parseRecord.js';
export type { Decision, Recipe } from './record/recipe.js';
export type {
  ClipRecord,
  PressRecord,
  ResponseRecord,
  SummaryRecord,
  WaitModelRecord,
} from './record/record.js';
export type { Region, RegionRole } from './region/region.js';
export type { ClipSamples, RegionSamples } from './samples/samples.js';
export { version } from './version.js';
