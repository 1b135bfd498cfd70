/** How FFmpeg must be told to give a clip's pictures as they are meant: upright, and past misleading edit lists. */
import type { ClipFacts } from './frameSource.js';

/** Filters that set the coded picture upright: mirrored first, then turned clockwise. */
export function turns({ orientation }: Pick<ClipFacts, 'orientation'>): string[] {
  const turned = {
    0: [],
    90: ['transpose=clock'],
    180: ['hflip', 'vflip'],
    270: ['transpose=cclock'],
  } as const;
  return [...(orientation.mirrored ? ['hflip'] : []), ...turned[orientation.rotationDeg]];
}

/** Where an edit list plays pieces or changes the speed, the recorded frames and times are wanted instead. */
export function ignoresEdits({ editList }: Pick<ClipFacts, 'editList'>): boolean {
  return editList === 'speed' || editList === 'pieces';
}
