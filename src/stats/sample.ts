/** The one check that every statistic makes first. */
import { expected } from '../errors.js';

/** Throws a UsageError unless `values` holds at least `least` numbers, all finite. */
export function checkSample(name: string, values: ArrayLike<number>, least: number): void {
  if (values.length < least) throw expected(name, `at least ${least} values`, values.length);
  for (let i = 0; i < values.length; i += 1) {
    if (!Number.isFinite(values[i])) throw expected(`${name}[${i}]`, 'a finite number', values[i]);
  }
}
