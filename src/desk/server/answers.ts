/** Library results in the words of the protocol; no number is made here. */
import type { CaptureClock } from '../../clip/captureClock.js';
import { uprightSize } from '../../clip/frameSource.js';
import type { Measurement } from '../../measure.js';
import { emptyRecipe } from '../../record/parseRecipe.js';
import { headlineOf, pressCounts, screenRegions, worries } from '../../report/headline.js';
import { regionSignals } from '../../viewing/regionSignals.js';
import { timelineOf } from '../../viewing/timeline.js';
import type { ClipAnswer, ClipCard, TracesAnswer } from '../protocol.js';
import type { ClipState } from './clipState.js';
import type { DeskFile } from './deskFolder.js';
import type { OpenClip } from './openClips.js';

/** base64 of an array's numbers, little-endian as every machine that Node runs on. */
export function base64Of({ buffer, byteOffset, byteLength }: ArrayBufferView): string {
  return Buffer.from(buffer as ArrayBuffer, byteOffset, byteLength).toString('base64');
}

/** The card of a clip in the listing. */
export function cardOf(
  file: DeskFile,
  { recipe, recipeTag, record, row, outdated, faults }: ClipState,
): ClipCard {
  const headlines = record ? screenRegions(record).map((region) => headlineOf(record, region)) : [];
  const told = headlines.find((h) => h.main !== null);
  const { unprompted: _, ...presses } = record
    ? pressCounts(record)
    : { measured: 0, noResponse: 0, ambiguous: 0, excluded: 0, unprompted: 0 };
  return {
    id: file.id,
    name: file.name,
    bytes: file.bytes,
    recipe: recipeTag !== null,
    record: record !== null,
    outdated,
    fitness: record?.fitness.class ?? null,
    headline: told?.main
      ? {
          region: told.region,
          label: told.main.label,
          value: told.main.value,
          note: told.main.note,
          verdict: told.verdict,
        }
      : null,
    presses: record ? presses : null,
    warnings: [
      ...faults,
      ...(record ? worries(record).flatMap((w) => (w.severity === 'note' ? [] : [w.text])) : []),
    ],
    labels: { ...(recipe ?? record?.recipe)?.labels, ...row?.labels },
  };
}

/** Everything about one clip. `measured`: its clock where it was sampled before; its pictures then told which frames are copies. */
export async function clipAnswer(
  clip: OpenClip,
  state: ClipState,
  measured: CaptureClock | null,
): Promise<ClipAnswer> {
  const { facts } = clip.source;
  const ticks = await clip.ticks();
  const rateHz = state.recipe?.capture.rateHz ?? null;
  const timeline = timelineOf(facts, ticks, rateHz, measured ?? undefined);
  const { capturedAtS, usedFrames } = timeline;
  let used: Uint8Array | null = null;
  if (usedFrames) {
    used = new Uint8Array(ticks.length);
    for (const k of usedFrames) used[k] = 1;
  }
  const frames = ticks.length;
  const size = uprightSize(facts);
  const lastS = frames > 0 ? capturedAtS[frames - 1]! - capturedAtS[0]! : 0;
  return {
    id: clip.file.id,
    name: clip.file.name,
    facts: {
      ...size,
      frames,
      durationS: frames > 1 ? (lastS * frames) / (frames - 1) : 0,
      captureRateHz: timeline.captureRateHz,
      mediaRateHz: facts.nominalRateHz,
      codec: facts.codec,
      container: facts.container,
      bytes: facts.bytes,
      sha256: facts.sha256,
      rotationDeg: facts.orientation.rotationDeg,
    },
    clock: { known: timeline.captureRateHz !== null, reason: timeline.reason, remarks: timeline.remarks },
    capturedAtS: base64Of(capturedAtS),
    used: used && base64Of(used),
    recipe: state.recipe,
    emptyRecipe: emptyRecipe({ file: facts.file, sha256: facts.sha256, bytes: facts.bytes }),
    recipeTag: state.recipeTag,
    record: state.record,
    outdated: state.outdated,
    sessionLabels: state.row?.labels ?? null,
    faults: state.faults,
  };
}

/** The traces of a measurement. */
export function tracesAnswer({ findings }: Measurement): TracesAnswer {
  const { capturedAtS, usedFrames } = findings.clock;
  return {
    capturedAtS: base64Of(capturedAtS),
    frames: usedFrames && base64Of(usedFrames),
    regions: regionSignals(findings).map(({ name, role, light, signal, middleS }) => ({
      name,
      role,
      values: base64Of(light),
      signal: signal && base64Of(signal),
      middleS,
    })),
  };
}
