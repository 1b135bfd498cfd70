/** Records and evidence of invented clips from Lantern Street, built from stated latencies; nothing is measured here. */
import type { Evidence, EvidenceFrame, EvidenceStrip } from '../../src/record/evidence.js';
import type { ClipRecord, PressRecord, ResponseRecord, SummaryRecord } from '../../src/record/record.js';

/** Deterministic numbers in [0, 1) (Lehmer, modulus 2^31 - 1). */
export function lehmer(seed: number): () => number {
  let state = (seed % 2147483646) + 1;
  return () => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
}

export const CAPTURE_HZ = 240;
export const REFRESH_MS = 1000 / 60;

/** What a fixture clip is like. */
export interface FixtureShape {
  readonly presses: number;
  /** Screen regions and their fixed delays, ms. */
  readonly delaysMs: Readonly<Record<string, number>>;
  readonly seed?: number;
  /** Press numbers (from 1) that end in another way. */
  readonly noResponse?: readonly number[];
  readonly excluded?: readonly number[];
  readonly ambiguous?: readonly number[];
}

function response(
  region: string,
  pressAtS: number,
  latencyMs: number,
  uncertaintyMs: number,
): ResponseRecord {
  const onsetS = pressAtS + latencyMs / 1000;
  return {
    region,
    status: 'measured',
    firstLightS: onsetS - 0.0008,
    onsetS,
    halfS: onsetS + 0.0022,
    settledS: onsetS + 0.0071,
    latencyMs,
    uncertaintyMs,
    intervalMs: [latencyMs - 1.96 * uncertaintyMs, latencyMs + 1.96 * uncertaintyMs],
    flags: [],
    budget: [
      { name: 'LED onset', standardUncertaintyMs: 0.24 * uncertaintyMs, type: 'A', common: false },
      { name: 'screen onset', standardUncertaintyMs: 0.86 * uncertaintyMs, type: 'A', common: false },
      { name: 'row readout', standardUncertaintyMs: 0.4 * uncertaintyMs, type: 'B', common: true },
      { name: 'capture rate', standardUncertaintyMs: 0.2 * uncertaintyMs, type: 'B', common: true },
    ],
  };
}

function quantile(sorted: readonly number[], p: number): number {
  const h = Math.max(1, Math.min(sorted.length, (sorted.length + 1 / 3) * p + 1 / 3));
  const low = Math.floor(h);
  const a = sorted[low - 1] ?? 0;
  return a + (h - low) * ((sorted[Math.min(sorted.length, low + 1) - 1] ?? a) - a);
}

function summary(valuesMs: readonly number[], delayMs: number): SummaryRecord {
  const sorted = [...valuesMs].sort((a, b) => a - b);
  const n = sorted.length;
  const meanMs = sorted.reduce((s, v) => s + v, 0) / n;
  const sdMs = n < 2 ? null : Math.sqrt(sorted.reduce((s, v) => s + (v - meanMs) ** 2, 0) / (n - 1));
  return {
    n,
    minimumMs: sorted[0] ?? 0,
    maximumMs: sorted[n - 1] ?? 0,
    medianMs: quantile(sorted, 0.5),
    medianIntervalMs: n < 6 ? null : [sorted[2] ?? 0, sorted[n - 3] ?? 0],
    medianConfidence: n < 6 ? null : 0.961,
    meanMs,
    sdMs,
    quantilesMs: {
      p05: quantile(sorted, 0.05),
      p25: quantile(sorted, 0.25),
      p75: quantile(sorted, 0.75),
      p95: quantile(sorted, 0.95),
    },
    displayFrameMs: REFRESH_MS,
    responseTimeMs: n < 2 ? null : 7.9,
    waitModel:
      n < 4
        ? null
        : {
            model: 'one-refresh',
            fixedDelayMs: delayMs,
            intervalMs: [delayMs - 0.93, delayMs + 0.84],
            jitterMs: 0.21,
            jitterIntervalMs: [0, 0.74],
            periodMs: REFRESH_MS,
            periodSource: 'stated',
            lag: 'fixed',
            bic: { 'no-wait': 81.2, 'one-refresh': 66.4, jitter: 68.8 },
            warnings: [],
          },
    commonUncertaintyMs: 0.2,
    verdict:
      n < 4
        ? `${n === 1 ? 'One press' : `${n} presses`} measured: too few to tell a fixed lag from a variable one.`
        : `This chain adds a fixed ${delayMs.toFixed(1)} ms; all spread beyond it is the wait for the next refresh.`,
  };
}

/** A record of the given shape. */
export function recordOf(shape: FixtureShape): ClipRecord {
  const random = lehmer(shape.seed ?? 7);
  const regions = Object.keys(shape.delaysMs);
  const has = (list: readonly number[] | undefined, i: number): boolean => list?.includes(i) ?? false;
  const presses: PressRecord[] = [];
  let pressAtS = 0.41237;
  for (let index = 1; index <= shape.presses; index++) {
    const waitMs = random() * REFRESH_MS;
    const lost = has(shape.noResponse, index);
    const ambiguous = has(shape.ambiguous, index);
    const excluded = has(shape.excluded, index);
    const responses = regions.map((region): ResponseRecord => {
      if (lost) return { region, status: 'no-response', flags: [] };
      const latencyMs = (shape.delaysMs[region] ?? 0) + waitMs + (random() - 0.5) * 0.6;
      const made = response(region, pressAtS, latencyMs, 0.32 + 0.3 * random());
      return ambiguous ? { ...made, status: 'ambiguous', flags: ['two-changes'] } : made;
    });
    presses.push({
      index,
      ledOnsetS: pressAtS,
      ledOnsetUncertaintyMs: 0.12,
      status: excluded ? 'excluded' : lost ? 'no-response' : ambiguous ? 'ambiguous' : 'measured',
      ...(excluded
        ? { reason: 'two buttons' }
        : ambiguous
          ? { reason: 'two changes of the screen fit this press' }
          : {}),
      flags: index === 5 ? ['dropped-frame'] : [],
      responses: excluded ? [] : responses,
    });
    pressAtS += 0.58 + 0.3 * random();
  }
  const summaries: Record<string, SummaryRecord> = {};
  for (const region of regions) {
    const values = presses
      .filter((p) => p.status === 'measured')
      .flatMap((p) => p.responses.filter((r) => r.region === region).map((r) => r.latencyMs ?? 0));
    if (values.length > 0) summaries[region] = summary(values, shape.delaysMs[region] ?? 0);
  }
  const sha256 = '9f2c4b1ad0e37756c8a1b2f4033d5e6f7a8b9c0d1e2f30415263748596a7b8c9';
  return {
    format: 'lagreel-record',
    version: 1,
    tool: { name: 'lagreel', version: '0.1.0', ffmpeg: 'ffmpeg version 7.0.2-static' },
    clip: {
      file: 'birch-240p.mp4',
      sha256,
      bytes: 18_734_112,
      width: 960,
      height: 540,
      frames: Math.round(pressAtS * CAPTURE_HZ),
      durationS: pressAtS,
      codec: 'h264',
      container: 'mov,mp4,m4a,3gp,3g2,mj2',
      rotationDeg: 0,
      pixelFormat: 'yuv420p',
      range: 'limited',
      transfer: 'bt709',
    },
    recipe: {
      format: 'lagreel-recipe',
      version: 1,
      clip: { file: 'birch-240p.mp4', sha256, bytes: 18_734_112 },
      labels: { chain: 'Birch', mode: '240p', display: 'tube' },
      regions: [
        { name: 'led', role: 'led', x: 78, y: 410, width: 24, height: 24 },
        ...regions.map((name, i) => ({
          name,
          role: 'screen' as const,
          x: 330,
          y: 60 + 130 * i,
          width: 260,
          height: 90,
        })),
        { name: 'wall', role: 'reference', x: 700, y: 40, width: 120, height: 80 },
      ],
      capture: { rateHz: null, exposureFraction: null, readoutFraction: null },
      display: { refreshHz: 60 },
      cue: { edge: 'press', delayMs: 0, delayUncertaintyMs: 0 },
      response: { level: 0.1, windowMs: [0, 500] },
      decisions: (shape.excluded ?? []).map((i) => ({
        pressAtS: presses[i - 1]?.ledOnsetS ?? 0,
        decision: 'exclude' as const,
        reason: 'two buttons',
      })),
    },
    timing: {
      captureRateHz: CAPTURE_HZ,
      source: 'tag',
      timeBase: [1, 90000],
      droppedFrames: 1,
      doubledFrames: 0,
      exposureFraction: 0.9,
      exposureFractionInterval: [0.86, 0.94],
      exposureSource: 'measured',
      readoutFraction: 0.62,
      readoutSource: 'calibrated',
      tickMs: 0.0111,
      irregularityMs: 0.0032,
    },
    fitness: { class: 'fit', reasons: [] },
    presses,
    unprompted: [{ region: regions[0] ?? 'top', onsetS: 3.2 }],
    summary: summaries,
    warnings: [],
  };
}

/** One strip: crops that go from dark to bright at `onsetS`, seen through a noisy camera. */
function stripOf(
  region: string,
  onsetS: number | null,
  aroundS: number,
  size: readonly [number, number],
  frames: number,
  random: () => number,
  uncertaintyS: number,
): EvidenceStrip {
  const [columns, rows] = size;
  const periodS = 1 / CAPTURE_HZ;
  const start = Math.floor((aroundS - (frames / 2) * periodS) / periodS);
  const isLed = columns === rows;
  const made: EvidenceFrame[] = [];
  const share = (timeS: number): number => {
    if (onsetS === null) return 0;
    const mean = (t: number): number => (t <= onsetS ? 0 : isLed ? 1 : 1 - Math.exp(-(t - onsetS) / 0.003));
    let sum = 0;
    for (let i = 0; i < 8; i++) sum += mean(timeS + ((i - 3.5) / 8) * 0.9 * periodS);
    return sum / 8;
  };
  for (let k = 0; k < frames; k++) {
    const capturedAtS = (start + k + 0.5) * periodS;
    const s = share(capturedAtS);
    const grey = new Uint8Array(columns * rows);
    for (let i = 0; i < grey.length; i++) {
      const x = (i % columns) / columns - 0.5;
      const y = Math.floor(i / columns) / rows - 0.5;
      const pattern = isLed
        ? Math.exp(-(x * x + y * y) * 14)
        : Math.abs(x + 0.12) < 0.2 && Math.abs(y) < 0.32
          ? 1
          : 0.15;
      grey[i] = Math.min(
        255,
        Math.max(
          0,
          34 + 200 * pattern * (0.12 + 0.88 * s) ** 0.45 - 60 * pattern * 0.12 + 10 * (random() - 0.5),
        ),
      );
    }
    made.push({ capturedAtS, grey, share: s + 0.03 * (random() - 0.5) });
  }
  const timesS = Array.from({ length: 4 * frames }, (_, i) => (start + i / 4) * periodS);
  return {
    region,
    columns,
    rows,
    frames: made,
    fitted: { timesS, shares: timesS.map(share) },
    onsetS,
    onsetIntervalS: onsetS === null ? null : [onsetS - 1.96 * uncertaintyS, onsetS + 1.96 * uncertaintyS],
  };
}

/** Evidence that goes with a record; `frames`: camera frames a strip. */
export function evidenceOf(
  record: ClipRecord,
  frames = 24,
  overviewJpeg: Uint8Array | null = null,
): Evidence {
  const random = lehmer(11);
  const presses = new Map<number, readonly EvidenceStrip[]>();
  for (const press of record.presses) {
    const led = stripOf('led', press.ledOnsetS, press.ledOnsetS, [12, 12], frames, random, 0.00012);
    const screens = press.responses.map((r) =>
      stripOf(
        r.region,
        r.onsetS ?? null,
        r.onsetS ?? press.ledOnsetS + 0.07,
        [24, 14],
        frames,
        random,
        (r.uncertaintyMs ?? 0) / 1000,
      ),
    );
    presses.set(press.index, [led, ...screens]);
  }
  return { overviewJpeg, presses };
}

/** Twelve presses, two regions, a little of everything that can happen. */
export const normalRecord = (): ClipRecord =>
  recordOf({ presses: 14, delaysMs: { top: 60.1, bottom: 74.6 }, noResponse: [9], excluded: [13] });

/** One press. */
export const onePressRecord = (): ClipRecord => recordOf({ presses: 1, delaysMs: { screen: 48.2 } });

/** Three presses and no answer. */
export const noResponseRecord = (): ClipRecord => {
  const record = recordOf({ presses: 3, delaysMs: { screen: 50 }, noResponse: [1, 2, 3] });
  return {
    ...record,
    fitness: {
      class: 'unfit',
      reasons: [
        {
          code: 'no-response',
          severity: 'unfit',
          text: 'No press was answered within 500 ms: film a scene in which the button changes the picture.',
        },
      ],
    },
  };
};

/** Exposure, readout and refresh unknown; one press ambiguous. */
export const unknownExposureRecord = (): ClipRecord => {
  const record = recordOf({ presses: 9, delaysMs: { screen: 66.3 }, ambiguous: [4], seed: 21 });
  const summary = record.summary.screen!;
  return {
    ...record,
    recipe: { ...record.recipe, display: { refreshHz: null } },
    timing: {
      ...record.timing,
      source: 'timestamps',
      exposureFraction: null,
      exposureFractionInterval: [0.2, 1],
      exposureSource: 'assumed',
      readoutFraction: null,
      readoutSource: 'unknown',
    },
    fitness: {
      class: 'usable with care',
      reasons: [
        {
          code: 'few-presses',
          severity: 'note',
          text: 'Only 9 presses: film 20 or more for a narrower interval.',
        },
        {
          code: 'exposure-unknown',
          severity: 'care',
          text: 'The exposure could not be found (9 LED edges): state it, or film with the shutter fully open.',
        },
      ],
    },
    summary: {
      screen: {
        ...summary,
        displayFrameMs: null,
        responseTimeMs: null,
        waitModel: {
          ...summary.waitModel!,
          lag: 'undecided',
          warnings: ['The presses keep time with the refresh.'],
        },
      },
    },
    warnings: ['The rate of 240 Hz comes from the timestamps alone.'],
  };
};

export const HOSTILE = '<script>alert("1")</script>\u001b[31m\u202Egnp.\u0000"\' onload=x &amp; =1+1';

/** Every string that can come from a file tries to break out. */
export const hostileRecord = (): ClipRecord => {
  const record = recordOf({ presses: 5, delaysMs: { [HOSTILE]: 60 }, excluded: [2] });
  const [led, screen, wall] = record.recipe.regions;
  return {
    ...record,
    tool: { ...record.tool, ffmpeg: HOSTILE, version: HOSTILE },
    clip: {
      ...record.clip,
      file: HOSTILE,
      codec: HOSTILE,
      container: HOSTILE,
      pixelFormat: HOSTILE,
      transfer: HOSTILE,
    },
    recipe: {
      ...record.recipe,
      labels: { chain: HOSTILE, [HOSTILE]: '=HYPERLINK("https://example.invalid/")' },
      regions: [{ ...led!, name: HOSTILE }, { ...screen!, labels: { chain: HOSTILE } }, wall!],
    },
    timing: { ...record.timing, source: HOSTILE },
    fitness: { class: 'usable with care', reasons: [{ code: HOSTILE, severity: 'care', text: HOSTILE }] },
    presses: record.presses.map((p) => ({
      ...p,
      reason: HOSTILE,
      flags: [HOSTILE],
      responses: p.responses.map((r) => ({
        ...r,
        flags: [HOSTILE],
        budget: [{ name: HOSTILE, standardUncertaintyMs: 0.3, type: 'A' as const, common: true }],
      })),
    })),
    unprompted: [{ region: HOSTILE, onsetS: 1 }],
    summary: Object.fromEntries(
      Object.entries(record.summary).map(([k, s]) => [
        k,
        { ...s, verdict: HOSTILE, waitModel: { ...s.waitModel!, warnings: [HOSTILE] } },
      ]),
    ),
    warnings: [HOSTILE],
  };
};
