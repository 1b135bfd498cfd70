/** The sample clips of the repository, made anew from their scenes. */
import { type EncodedClip, type EncodeOptions, encodeClip } from './encodeClip.js';
import { lanternStreetScenes } from './lanternStreet.js';

/**
 * Writes the sample clips and their truth into a folder that exists. Together they stay below 5 MB.
 * @throws as `encodeClip`
 */
export async function makeSampleClips(
  folder: string,
  options: Pick<EncodeOptions, 'signal'> & { readonly onClip?: (clip: EncodedClip) => void } = {},
): Promise<readonly EncodedClip[]> {
  const clips: EncodedClip[] = [];
  for (const scene of lanternStreetScenes()) {
    const clip = await encodeClip(scene, folder, {
      crf: 20,
      preset: 'fast',
      ...(options.signal ? { signal: options.signal } : {}),
    });
    clips.push(clip);
    options.onClip?.(clip);
  }
  return clips;
}
