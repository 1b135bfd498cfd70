/** Proof for the eye: the pictures and trace values around each press, beside the record, for reports only. */

/** One camera frame of one region, as the measurement saw it: grey levels for display (gamma-encoded, 0..255). */
export interface EvidenceFrame {
  /** Middle of this frame's exposure on the capture clock, s. */
  readonly capturedAtS: number;
  /** `columns * rows` bytes, upright, row by row. */
  readonly grey: Uint8Array;
  /** The trace at this frame: 0 before the change, 1 after it has settled. */
  readonly share: number;
}

/** A region around one onset. */
export interface EvidenceStrip {
  readonly region: string;
  readonly columns: number;
  readonly rows: number;
  /** Consecutive camera frames around the onset. */
  readonly frames: readonly EvidenceFrame[];
  /** The fitted curve for drawing: times (s, capture clock) and shares. */
  readonly fitted: { readonly timesS: readonly number[]; readonly shares: readonly number[] };
  /** Onset and its 95 % interval, s on the capture clock; null where nothing was found. */
  readonly onsetS: number | null;
  readonly onsetIntervalS: readonly [number, number] | null;
}

/** All proof of one clip. */
export interface Evidence {
  /** Overview picture with regions drawn in, JPEG bytes; null where none could be made. */
  readonly overviewJpeg: Uint8Array | null;
  /** By press index (from 1): the LED's strip, then one for each screen region. */
  readonly presses: ReadonlyMap<number, readonly EvidenceStrip[]>;
}
