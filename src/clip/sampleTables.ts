/** The sample tables of a track (ISO/IEC 14496-12 8.6 and 8.7), written out no further than the bounds allow. */

/** Runs of (count, value) written out, never more than `n` of them. */
function writeOut(table: Buffer | undefined, n: number, put: (index: number, value: number) => void): void {
  if (table === undefined) return;
  const runs = Math.min(table.readUInt32BE(4), Math.floor((table.length - 8) / 8));
  for (let run = 0, index = 0; run < runs && index < n; run++) {
    const value = table.readInt32BE(12 + run * 8);
    for (let left = table.readUInt32BE(8 + run * 8); left > 0 && index < n; left--) put(index++, value);
  }
}

/** Presentation times in decode order, ticks, before any edit (boxes `stts` and `ctts`). */
export function presentationTicks(
  stts: Buffer | undefined,
  ctts: Buffer | undefined,
  n: number,
): Float64Array {
  const ticks = new Float64Array(n);
  let decode = 0;
  writeOut(stts, n, (index, delta) => {
    ticks[index] = decode;
    decode += delta;
  });
  writeOut(ctts, n, (index, offset) => {
    ticks[index] = (ticks[index] ?? 0) + offset;
  });
  return ticks;
}

/** The boxes that say where each sample lies. */
export interface SamplePlaces {
  readonly stsz: Buffer | undefined;
  readonly stsc: Buffer | undefined;
  readonly stco: Buffer | undefined;
  readonly co64: Buffer | undefined;
}

/** How many of `n` samples end before the file does. */
export function samplesInside(places: SamplePlaces, n: number, fileBytes: number): number {
  const { stsz, stsc, co64: wide } = places;
  const offsets = wide ?? places.stco;
  if (stsz === undefined || stsc === undefined || offsets === undefined) return n;
  const fixedBytes = stsz.readUInt32BE(4);
  const chunks = Math.min(offsets.readUInt32BE(4), Math.floor((offsets.length - 8) / (wide ? 8 : 4)));
  const runs = Math.min(stsc.readUInt32BE(4), Math.floor((stsc.length - 8) / 12));
  let sample = 0;
  let inside = 0;
  for (let chunk = 0, run = 0; chunk < chunks && sample < n; chunk++) {
    while (run + 1 < runs && stsc.readUInt32BE(8 + (run + 1) * 12) <= chunk + 1) run++;
    let at = wide ? Number(wide.readBigUInt64BE(8 + chunk * 8)) : offsets.readUInt32BE(8 + chunk * 4);
    const perChunk = runs === 0 ? 0 : stsc.readUInt32BE(12 + run * 12);
    for (let k = 0; k < perChunk && sample < n; k++, sample++) {
      at += fixedBytes || stsz.readUInt32BE(12 + sample * 4);
      if (at <= fileBytes) inside++;
    }
  }
  return inside;
}
