// Measures one clip and prints each screen region's fixed delay: node measureClip.mjs CLIP [RECIPE]
import { measureFile } from 'lagreel';

const [clip, recipePath] = process.argv.slice(2);
const { measurement, files } = await measureFile(clip, recipePath ? { recipePath } : {});
for (const [region, { n, waitModel }] of Object.entries(measurement.record.summary)) {
  const delay = waitModel
    ? `${waitModel.fixedDelayMs.toFixed(1)} ms (${waitModel.intervalMs.map((ms) => ms.toFixed(1)).join(' to ')})`
    : 'not known';
  console.log(`${region}: fixed delay ${delay}, ${n} presses`);
}
console.log(`Report: ${files.report}`);
