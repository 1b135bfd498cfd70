/**
 * Steps of a calculation whose results are remembered, so that after a change only what depends on it is made again.
 * The steps themselves stay pure: with a memory or without one, they give the same numbers.
 */

/**
 * Makes a step, or gives what it made last from the very same inputs.
 * @param step a name of its own for each step.
 * @param inputs all that the result depends on, compared by identity. The first one is an object, and the result is
 *   kept for as long as that object lives: one result for each.
 */
export type Remember = <T>(
  step: string,
  inputs: readonly [of: object, ...others: unknown[]],
  make: () => T,
) => T;

/** No memory: every step is made. */
export const everyStepAnew: Remember = (_step, _inputs, make) => make();

/** A memory of its own. */
export function rememberSteps(): Remember {
  const steps = new Map<string, WeakMap<object, { readonly inputs: readonly unknown[]; value: unknown }>>();
  return <T>(step: string, inputs: readonly [object, ...unknown[]], make: () => T): T => {
    const kept = steps.get(step) ?? new WeakMap();
    steps.set(step, kept);
    const [of] = inputs;
    const last = kept.get(of);
    const isSame =
      last?.inputs.length === inputs.length && last.inputs.every((v, i) => Object.is(v, inputs[i]));
    if (last && isSame) return last.value as T;
    const value = make();
    kept.set(of, { inputs, value });
    return value;
  };
}
