/** What a camera is taken to do where neither a person nor the clip tells. */

/** A share of the capture period with its standard uncertainty. */
export interface AssumedShare {
  readonly fraction: number;
  readonly sd: number;
}

/** Sensors that film fast are read out during most of a frame; uniform from 0.35 to 1 (judgement). */
export const UNKNOWN_READOUT: AssumedShare = { fraction: 0.675, sd: 0.65 / Math.sqrt(12) };
/** Exposure in the light of a room (judgement). */
export const UNKNOWN_EXPOSURE: AssumedShare = { fraction: 0.75, sd: 0.15 };
