/** Processes of FFmpeg that this process has started and that are not gone (a zombie counts as alive). Linux only. */
import { readdirSync, readFileSync } from 'node:fs';

export function childrenAlive(): string[] {
  return readdirSync('/proc')
    .filter((entry) => /^\d+$/.test(entry))
    .filter((pid) => {
      try {
        const stat = readFileSync(`/proc/${pid}/stat`, 'latin1');
        const end = stat.lastIndexOf(')');
        const parent = Number(stat.slice(end + 2).split(' ')[1]);
        return parent === process.pid && stat.slice(0, end).includes('ffmpeg');
      } catch {
        return false; // Gone while we looked.
      }
    });
}
