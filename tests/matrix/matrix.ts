/**
 * `npm run matrix [-- --clips 300 --seed 40000 --from 0 --verbose]`: displays, contents, LEDs, hands, rooms and cameras
 * crossed at random, made on the fly and measured in memory. Seeds looked at while developing:
 * 40000 to 40039, 41000 to 41039, 43000 to 43077, and all below 10 000; 44000 to 44039 once, for their regions;
 * the verdicts of 42000 to 42049 and of 42150 to 42199 were read, and these clips debugged and tuned on, as 45000 to 45015;
 * 45100 to 45129 once, at the end of that; the verdicts of 42050 to 42144 and 42200 to 42299 were read.
 * For their regions only: 46000 to 46063 and, of 46100 to 46499, tubes and strobed displays before passers, thumbs and
 * exposure steps, both looked into; 46500 to 46544 once, at the end of that; 45300 to 45359 and, of 45400 to 45459,
 * those not found (45405, 45407, 45420, 45426, 45428, 45441, 45449, 45451, 45452), both looked into.
 * For their latencies: 46500 to 46649 and some of the menus from 43106 to 45457 were tuned on; of 46700 to 46731, the
 * check at the end of that, 46712 was looked into.
 * For their latencies: of 48300 to 48856, displays with black frames or their refresh not told, 48306 and 48420 looked into;
 * the verdicts of 60000 to 61677 were read, and of these 61102, 61145, 61229, 61386, 61443, 61469, 61565, 61575, 60495, 60545, 60548, 60619, 60642, 60651, 60683, 60727 and 60809 looked into;
 * of 60300 to 60777 the displays that shine in pulses were compared before and after. 50903 was looked into, and 50207 to 50359, menus, compared before and after.
 * The verdicts of 49000 to 49036 were read, and 49005, 49022 and 49036 looked into; 50000 to 50008 once, for their regions.
 * For their regions only: 52000 to 52036 and, of 52037 to 52350, those that are hard to find, of which 52006, 52018, 52037,
 * 52071, 52213, 52218, 52223, 52277, 52344 and 52350 were looked into; 52100 to 52130 once, at the end of that.
 * Of 43100 to 46862, pictures of low contrast on pulsed displays before cameras that shake: their latencies were read,
 * and 44291, 45145, 45176 and 46452 looked into.
 * 53000 to 53039 and 53200 to 53224 were coded (H.264, CRF 22 and 25), read, and 53019 and 53207 looked into; of 53040 to 53180
 * the LEDs that light slowly were compared before and after. 53300 to 53317 were coded (CRF 24) and read. Of 54000 to 54860, displays that
 * shine in pulses, their refresh not told, were read, and 54055 and 54766 looked into, as 60388 was.
 * For their regions only: 57000 to 57090 and, of 57112 to 57396, 31 that are hard to find, were read; 60347, 60384, 60421
 * and 60431 looked into; 58000 to 58141 once, at the end of that; of these 58063 was looked into.
 */
import { parseArgs } from 'node:util';
import { drawClip, FACTORS } from './drawClip.js';
import type { Judgement } from './judgeClip.js';
import { judgeClip } from './judgeClip.js';
import { describeFailures, describeTotals, factorTable } from './matrixTable.js';

const { values: args } = parseArgs({
  options: {
    clips: { type: 'string', default: '300' },
    seed: { type: 'string', default: '40000' },
    from: { type: 'string', default: '0' },
    verbose: { type: 'boolean', default: false },
  },
});
const clips = Number(args.clips);
const first = Number(args.seed) + Number(args.from);

const judged: Judgement[] = [];
for (let seed = first; seed < first + clips; seed++) {
  const judgement = await judgeClip(drawClip(seed));
  judged.push(judgement);
  if (args.verbose) console.log(describeFailures(judgement));
  if (process.stderr.isTTY) process.stderr.write(`\r${seed - first + 1}/${clips}   `);
}
console.log(`\n${clips} clips from seed ${first}\n`);
for (const factor of FACTORS) console.log(factorTable(judged, factor));
console.log(describeTotals(judged));
