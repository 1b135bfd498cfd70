/** How fit a clip is: what its light, its clock, its presses and its latencies say, put together for the judgement. */
import type { ClipFindings } from './clipFindings.js';
import type { ClipLatencies } from './clipLatencies.js';
import { assessFitness, type Fitness } from './latency/assessFitness.js';
import { regionEvidence } from './measuredEvidence.js';
import { answeredCount, flaggedShare, flickeringShare, medianContrast } from './press/clipDoubts.js';
import type { RegionEvidence } from './record/record.js';

/** The judgement, and what was measured of each region, by name. */
export interface ClipFitness extends Fitness {
  readonly evidence: Readonly<Record<string, RegionEvidence>>;
}

/**
 * Judges a clip. Pure.
 * @param regionsUnsure the regions were found, and should be looked at before they are believed.
 */
export function clipFitness(
  findings: ClipFindings,
  { answered, pairing, regions, otherEdge }: ClipLatencies,
  regionsUnsure: boolean,
): ClipFitness {
  const { frames, clock, readout, exposure, led, ledLight, screens, screenLights, damagedFrames } = findings;
  const ledContrast = led.onsets.length > 0 ? led.contrast : null;
  const evidence = Object.fromEntries([
    [ledLight.region.name, regionEvidence(ledLight, ledContrast, ledLight.clippedCells)],
    ...screens.map((set, i) => {
      const contrast = set.onsets.length > 0 ? medianContrast(pairing, set) : null;
      return [set.region.name, regionEvidence(screenLights[i]!, contrast, screenLights[i]!.clippedCells)];
    }),
  ]) as Readonly<Record<string, RegionEvidence>>;
  const pressesThat = (status: 'measured' | 'ambiguous' | 'no-response') =>
    pairing.presses.filter((p) => p.status === status).length;
  const fitness = assessFitness({
    captureRateHz: clock.captureRateHz,
    rateSource: clock.source,
    ledContrast: led.contrast,
    ledSaturated: ledLight.saturated,
    presses: pairing.presses.length,
    measured: pressesThat('measured'),
    ambiguous: pressesThat('ambiguous'),
    noResponse: pressesThat('no-response'),
    regionsUnsure,
    otherEdge,
    oddEdges: pairing.presses.filter((p) => p.flags.includes('odd-led-edge')).length,
    flaggedShare: flaggedShare(answered),
    screens: screens.map((s, i) => ({
      name: s.region.name,
      answered: answeredCount(pairing, s),
      contrast: medianContrast(pairing, s),
      flickering: flickeringShare(pairing, s),
      saturated: screenLights[i]!.saturated,
    })),
    exposureFraction: exposure.fraction,
    exposureMeasured: exposure.source !== 'assumed',
    frames,
    droppedFrames: clock.droppedFrames,
    doubledFrames: clock.madeFrames,
    damagedFrames,
    irregularityFrames: clock.irregularityS / clock.periodS,
    tickFrames: clock.tickS / clock.periodS,
    readoutKnown: readout.source !== 'unknown',
    readoutDistance: Math.max(0, ...regions.map((r) => Math.abs(r.readoutDistance))),
    shaken: [ledLight, ...screenLights].map(({ region }) => ({
      name: region.name,
      shakePx: evidence[region.name]!.shakePx,
      sidePx: Math.min(region.width, region.height),
    })),
  });
  return { ...fitness, evidence };
}
