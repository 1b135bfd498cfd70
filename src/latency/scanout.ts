/** How the display draws its picture, from regions at different heights answering the same presses. */

/** Latencies of one region, one entry a press; null where it has none. */
export interface RegionLatencies {
  readonly name: string;
  /** Middle of the region, upright px from the top. */
  readonly middlePx: number;
  readonly latenciesMs: readonly (number | null)[];
}

/** The scan of the display over the picture's rows. */
export interface Scanout {
  /** Time from one upright pixel row to the next, ms; negative is upwards. */
  readonly msPerPx: number;
  /** Standard uncertainty, the unknown readout included, ms per px. */
  readonly msPerPxUncertainty: number;
  readonly direction: 'down' | 'up' | 'at-once';
  /** Time from the topmost region's middle to the lowest one's, ms. */
  readonly topToBottomMs: number;
  /** Presses that two or more regions answered. */
  readonly presses: number;
}

/**
 * Slope of latency over height. The wait and the LED are the same for all regions of one press, so that the slope of
 * each press is free of them; presses are averaged.
 * @param readoutMsPerPx standard uncertainty of the camera's own row readout, ms per upright pixel row (0 where known).
 * @returns null for fewer than two regions at different heights, or fewer than three presses.
 */
export function fitScanout(regions: readonly RegionLatencies[], readoutMsPerPx: number): Scanout | null {
  if (regions.length < 2) return null;
  const heights = regions.map((r) => r.middlePx);
  const spanPx = Math.max(...heights) - Math.min(...heights);
  if (spanPx < 1) return null;
  const count = Math.max(...regions.map((r) => r.latenciesMs.length));
  const slopes: number[] = [];
  for (let i = 0; i < count; i++) {
    const points = regions.flatMap((r) => {
      const latencyMs = r.latenciesMs[i];
      return latencyMs === null || latencyMs === undefined ? [] : [{ x: r.middlePx, y: latencyMs }];
    });
    if (points.length < 2) continue;
    const mx = points.reduce((s, p) => s + p.x, 0) / points.length;
    const my = points.reduce((s, p) => s + p.y, 0) / points.length;
    const xx = points.reduce((s, p) => s + (p.x - mx) ** 2, 0);
    if (xx < 1) continue;
    slopes.push(points.reduce((s, p) => s + (p.x - mx) * (p.y - my), 0) / xx);
  }
  if (slopes.length < 3) return null;
  const msPerPx = slopes.reduce((a, b) => a + b, 0) / slopes.length;
  const variance = slopes.reduce((s, v) => s + (v - msPerPx) ** 2, 0) / (slopes.length - 1);
  const uncertainty = Math.hypot(Math.sqrt(variance / slopes.length), readoutMsPerPx);
  // Below half a millisecond over the span, or within what is not known, nothing is drawn line by line.
  const still = Math.max(0.5 / spanPx, 2 * uncertainty);
  const direction = Math.abs(msPerPx) < still ? 'at-once' : msPerPx > 0 ? 'down' : 'up';
  return {
    msPerPx,
    msPerPxUncertainty: uncertainty,
    direction,
    topToBottomMs: msPerPx * spanPx,
    presses: slopes.length,
  };
}

/** Sentences on what is unusual about the way the display draws. */
export function scanoutNotes(scanout: Scanout | null): string[] {
  if (scanout === null || scanout.direction === 'down') return [];
  if (scanout.direction === 'up') {
    return [
      `The display draws from the bottom up: its lowest region answers ${(-scanout.topToBottomMs).toFixed(1)} ms before its topmost one.`,
    ];
  }
  return [
    "All screen regions change at once: the display shows whole pictures, or its scan equals the camera's.",
  ];
}
