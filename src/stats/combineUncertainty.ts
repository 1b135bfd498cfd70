/** The law of propagation of uncertainty (JCGM 100:2008). */
import { expected } from '../errors.js';
import { studentTQuantile } from '../numeric/studentT.js';

/** One input: its standard uncertainty times sensitivity, and how well it is known. */
export interface UncertaintyPart {
  /** |c_i| u(x_i), in units of the result; sign kept where correlations are given. */
  readonly standardUncertainty: number;
  /** Degrees of freedom; infinite (the default) where the uncertainty is taken as known. */
  readonly degreesOfFreedom?: number;
}

/** A combined uncertainty. */
export interface CombinedUncertainty {
  readonly standardUncertainty: number;
  /** Welch-Satterthwaite, not rounded; Infinity where every part is known exactly. */
  readonly degreesOfFreedom: number;
  /** Student t at the stated confidence for the degrees of freedom used. */
  readonly coverageFactor: number;
  /** coverageFactor * standardUncertainty. */
  readonly expandedUncertainty: number;
}

/** How to combine. */
export interface CombineOptions {
  /** Confidence of the expanded uncertainty, default 0.95. */
  readonly confidence?: number;
  /** Correlation coefficients r(i, j) of pairs of parts; pairs not named are independent. */
  readonly correlations?: readonly { readonly i: number; readonly j: number; readonly r: number }[];
  /**
   * Cut the degrees of freedom to a whole number before the t factor, as GUM G.4.1 note 1 advises. A value within
   * 0.05 below a whole number is taken as that number (the GUM's own example gives 18.9987 and uses 19).
   */
  readonly truncate?: boolean;
}

/**
 * Combined standard uncertainty (GUM 5.1.2, 5.2.2), effective degrees of freedom (G.4.1, eq. G.2b) and expanded
 * uncertainty. With correlated parts eq. G.2b does not hold strictly; it is then a guide.
 */
export function combineUncertainty(
  parts: readonly UncertaintyPart[],
  options: CombineOptions = {},
): CombinedUncertainty {
  const { confidence = 0.95, correlations = [], truncate = false } = options;
  if (!(confidence > 0 && confidence < 1)) throw expected('confidence', 'between 0 and 1', confidence);
  let variance = 0;
  let fourth = 0;
  for (const { standardUncertainty: u, degreesOfFreedom = Number.POSITIVE_INFINITY } of parts) {
    if (!Number.isFinite(u)) throw expected('standardUncertainty', 'a finite number', u);
    if (!(degreesOfFreedom > 0)) throw expected('degreesOfFreedom', 'a positive number', degreesOfFreedom);
    variance += u * u;
    fourth += u ** 4 / degreesOfFreedom;
  }
  for (const { i, j, r } of correlations) {
    const a = parts[i];
    const b = parts[j];
    if (a === undefined || b === undefined || i === j)
      throw expected('correlations', 'pairs of parts', `${i}, ${j}`);
    if (!(Math.abs(r) <= 1)) throw expected('r', 'from -1 to 1', r);
    variance += 2 * r * a.standardUncertainty * b.standardUncertainty;
  }
  variance = Math.max(0, variance);
  const degreesOfFreedom = fourth > 0 ? variance ** 2 / fourth : Number.POSITIVE_INFINITY;
  const used =
    truncate && Number.isFinite(degreesOfFreedom)
      ? Math.max(1, Math.floor(degreesOfFreedom + 0.05))
      : degreesOfFreedom;
  const coverageFactor = studentTQuantile(0.5 + confidence / 2, used);
  const standardUncertainty = Math.sqrt(variance);
  return {
    standardUncertainty,
    degreesOfFreedom,
    coverageFactor,
    expandedUncertainty: coverageFactor * standardUncertainty,
  };
}

/**
 * Standard uncertainty of a quantity known only to lie within +-halfWidth: rectangular a / sqrt(3) (GUM 4.3.7),
 * triangular a / sqrt(6) (4.3.9), or U-shaped a / sqrt(2) (cyclic, arcsine).
 */
export function typeBUncertainty(
  halfWidth: number,
  shape: 'rectangular' | 'triangular' | 'arcsine' = 'rectangular',
): number {
  if (!(halfWidth >= 0)) throw expected('halfWidth', 'at least 0', halfWidth);
  return halfWidth / Math.sqrt({ rectangular: 3, triangular: 6, arcsine: 2 }[shape]);
}
