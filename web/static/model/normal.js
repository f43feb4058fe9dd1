// The normal distribution, and sums of exponentials.

/** From here on the continued fraction is the shorter way. */
const SERIES_UP_TO = 2.5;
/** Terms of the continued fraction: at 2.5 the rest is far below the last bit. */
const FRACTION_TERMS = 50;

/**
 * Complementary error function, to some 1e-15: below 2.5 by the series of positive terms
 * (Abramowitz and Stegun 7.1.6), beyond by the continued fraction (7.1.14).
 * @param {number} x
 * @returns {number}
 */
function erfc(x) {
  if (x < 0) return 2 - erfc(-x);
  const gauss = Math.exp(-x * x) / Math.sqrt(Math.PI);
  if (x < SERIES_UP_TO) {
    let term = 2 * x * gauss;
    let sum = 0;
    for (let n = 0; term > 1e-18; n += 1) {
      sum += term;
      term *= (2 * x * x) / (2 * n + 3);
    }
    return 1 - sum;
  }
  let below = x;
  for (let k = FRACTION_TERMS; k > 0; k -= 1) below = x + k / 2 / below;
  return gauss / below;
}

/** Probability of a standard normal value at or below `z`. @param {number} z */
export function cdf(z) {
  return 0.5 * erfc(-z / Math.SQRT2);
}

/** Probability of a standard normal value above `z`. @param {number} z */
export function sf(z) {
  return 0.5 * erfc(z / Math.SQRT2);
}

/** Logarithm of the normal density with mean 0. @param {number} residual @param {number} variance */
export function lnNormal(residual, variance) {
  return -0.5 * ((residual * residual) / variance + Math.log(2 * Math.PI * variance));
}

/** Logarithm of a sum of exponentials. @param {number[]} terms @returns {number} */
export function lnSumExp(terms) {
  const largest = Math.max(-Infinity, ...terms);
  if (largest === -Infinity) return largest;
  return largest + Math.log(terms.reduce((sum, t) => sum + Math.exp(t - largest), 0));
}
