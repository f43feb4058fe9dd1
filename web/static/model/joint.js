// Conditioning: what the readings of both hands say about each other.
import { SIDES } from "./hand.js";
import { cholesky, dot, identity, inverse, solve, solveLower } from "./linear.js";

/** @typedef {import("./hand.js").Side} Side */
/** @typedef {import("./hand.js").Hands} Hands */
/** @typedef {import("./population.js").Component} Component */

/**
 * One summary of readings, and how far it may be off.
 * @typedef {object} Observation
 * @property {Side} side
 * @property {number} dimension
 * @property {number} mm
 * @property {number} errorShare variance of the summary's own error over that of a single reading of the workshop
 * @property {boolean} isHome whether it was taken at home: such readings share one scale error more
 */

/**
 * Readings conditioned under one component.
 * @typedef {object} Joint
 * @property {Component} component
 * @property {Observation[]} readings
 * @property {Float64Array | null} factor Cholesky factor of the readings' covariance
 * @property {Float64Array} weights inverse covariance times deviations
 * @property {number} logLikelihood
 */

/** The usable readings of both hands, in a fixed order. @param {Hands} hands @returns {Observation[]} */
export function observations(hands) {
  const all = [];
  for (const side of SIDES) {
    hands[side].forEach((s, dimension) => {
      if (s && s.medianMm > 0 && Number.isFinite(s.medianMm)) {
        const { medianMm: mm, isHome } = s;
        all.push({ side, dimension, mm, errorShare: errorShare(s.count), isHome });
      }
    });
  }
  return all;
}

/** Variance of a median of `n` normal readings over that of one reading. @param {number} n */
function errorShare(n) {
  if (n <= 1) return 1;
  return n === 2 ? 0.5 : Math.PI / (2 * n + Math.PI - 2);
}

/**
 * Covariance of the true values of two dimensions, each of one hand.
 * @param {Component} component
 * @param {{side: Side, dimension: number}} a
 * @param {{side: Side, dimension: number}} b
 */
export function covariance(component, a, b) {
  const matrix = a.side === b.side ? component.within : component.between;
  return matrix[a.dimension * component.logMean.length + b.dimension];
}

/** @param {Component} component @param {Observation[]} readings @returns {Joint} */
export function joint(component, readings) {
  const n = readings.length;
  const deviations = Float64Array.from(
    readings,
    (o) => Math.log(o.mm) - component.logMean[o.dimension],
  );
  const matrix = new Float64Array(n * n);
  for (let i = 0; i < n; i += 1) {
    for (let j = 0; j < n; j += 1) matrix[i * n + j] = covariance(component, readings[i], readings[j]);
    const { dimension, errorShare: share, isHome } = readings[i];
    const own = isHome ? component.homeError ** 2 : 1;
    matrix[i * n + i] += component.error[dimension] ** 2 * share * own;
    if (!isHome) continue;
    for (let j = 0; j < n; j += 1) if (readings[j].isHome) matrix[i * n + j] += component.homeScale ** 2;
  }
  const factor = cholesky(matrix, n);
  const weights = new Float64Array(n);
  if (!factor) return { component, readings, factor, weights, logLikelihood: 0 };
  weights.set(deviations);
  solve(factor, weights);
  let logDeterminant = 0;
  for (let i = 0; i < n; i += 1) logDeterminant += Math.log(factor[i * n + i]);
  const constant = n * Math.log(2 * Math.PI);
  const logLikelihood = -0.5 * (dot(deviations, weights) + constant) - logDeterminant;
  return { component, readings, factor, weights, logLikelihood };
}

/** Inverse covariance of the readings. @param {Joint} of @returns {Float64Array} */
export function inverseCovariance(of) {
  const n = of.readings.length;
  return of.factor ? inverse(of.factor, n) : identity(n);
}

/**
 * Mean and variance of one more log reading of a dimension of one hand.
 * @param {Joint} of @param {{side: Side, dimension: number}} at
 * @returns {{mean: number, variance: number}}
 */
export function predict(of, at) {
  const { component, factor, readings, weights } = of;
  const { dimension } = at;
  const cross = Float64Array.from(readings, (o) => covariance(component, o, at));
  const mean = component.logMean[dimension] + dot(cross, weights);
  if (factor) solveLower(factor, cross);
  const own = covariance(component, at, at) + component.error[dimension] ** 2;
  return { mean, variance: Math.max(own - dot(cross, cross), 0) };
}

/**
 * Mean and covariance of the true log values of every dimension of both hands, left then right,
 * given the readings.
 * @param {Joint} of
 * @returns {{mean: Float64Array, covariance: Float64Array}}
 */
export function posterior(of) {
  const { component, factor, readings, weights } = of;
  const slots = SIDES.flatMap((side) => Array.from(component.logMean, (_, dimension) => ({ side, dimension })));
  const n = slots.length;
  const mean = new Float64Array(n);
  // The readings' covariance with every slot, whitened: inner products are what the readings take
  // off the prior covariance.
  const whitened = slots.map((slot, i) => {
    const cross = Float64Array.from(readings, (o) => covariance(component, o, slot));
    mean[i] = component.logMean[slot.dimension] + dot(cross, weights);
    if (factor) solveLower(factor, cross);
    return cross;
  });
  const matrix = new Float64Array(n * n);
  for (let i = 0; i < n; i += 1) {
    for (let j = i; j < n; j += 1) {
      const value = covariance(component, slots[i], slots[j]) - dot(whitened[i], whitened[j]);
      matrix[i * n + j] = value;
      matrix[j * n + i] = value;
    }
  }
  return { mean, covariance: matrix };
}
