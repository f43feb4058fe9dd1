// Linear algebra of small symmetric matrices, kept row by row in Float64Array.

/**
 * Lower triangular factor `L` of a positive definite matrix, `L L' = matrix`; `null` when the
 * matrix is not positive definite.
 * @param {Float64Array} matrix n x n
 * @param {number} n
 * @returns {Float64Array | null}
 */
export function cholesky(matrix, n) {
  const lower = new Float64Array(n * n);
  for (let j = 0; j < n; j += 1) {
    for (let i = j; i < n; i += 1) {
      let sum = matrix[i * n + j];
      for (let k = 0; k < j; k += 1) sum -= lower[i * n + k] * lower[j * n + k];
      if (i === j) {
        if (!(sum > 0)) return null;
        lower[j * n + j] = Math.sqrt(sum);
      } else {
        lower[i * n + j] = sum / lower[j * n + j];
      }
    }
  }
  return lower;
}

/**
 * Solves `L x = b` in place.
 * @param {Float64Array} lower
 * @param {Float64Array} b becomes x
 */
export function solveLower(lower, b) {
  const n = b.length;
  for (let i = 0; i < n; i += 1) {
    let sum = b[i];
    for (let k = 0; k < i; k += 1) sum -= lower[i * n + k] * b[k];
    b[i] = sum / lower[i * n + i];
  }
}

/**
 * Solves `L L' x = b` in place.
 * @param {Float64Array} lower
 * @param {Float64Array} b becomes x
 */
export function solve(lower, b) {
  const n = b.length;
  solveLower(lower, b);
  for (let i = n - 1; i >= 0; i -= 1) {
    let sum = b[i];
    for (let k = i + 1; k < n; k += 1) sum -= lower[k * n + i] * b[k];
    b[i] = sum / lower[i * n + i];
  }
}

/**
 * Inverse of `L L'`.
 * @param {Float64Array} lower
 * @param {number} n
 * @returns {Float64Array}
 */
export function inverse(lower, n) {
  const out = new Float64Array(n * n);
  const column = new Float64Array(n);
  for (let j = 0; j < n; j += 1) {
    column.fill(0);
    column[j] = 1;
    solve(lower, column);
    for (let i = 0; i < n; i += 1) out[i * n + j] = column[i];
  }
  return out;
}

/** @param {number} n @returns {Float64Array} */
export function identity(n) {
  const out = new Float64Array(n * n);
  for (let i = 0; i < n; i += 1) out[i * n + i] = 1;
  return out;
}

/** @param {ArrayLike<number>} a @param {ArrayLike<number>} b @returns {number} */
export function dot(a, b) {
  let sum = 0;
  for (let i = 0; i < a.length; i += 1) sum += a[i] * b[i];
  return sum;
}
