// How much likelier the readings become when one of them, or several, is taken for another value.
//
// With `P` the inverse covariance of the readings and `a = P z`, replacing the deviations `z` by
// `z + d` changes the log density by `-(d.a + d'P d / 2)`, and leaving reading `i` out removes a
// normal density with residual `a_i / P_ii` and variance `1 / P_ii`.
import { inverseCovariance } from "./joint.js";
import { lnNormal, lnSumExp } from "./normal.js";
import { Predictive } from "./predictive.js";

/** @typedef {[number, number]} Change position of a reading and the log value it is taken for */

/**
 * The readings under one component.
 * @typedef {object} View
 * @property {number} lnPrior
 * @property {number} logLikelihood
 * @property {Float64Array} inverse
 * @property {Float64Array} weights
 * @property {number[]} logMean expected log reading before any evidence, by reading
 */

/** The readings under every component that may be meant. */
export class Evidence {
  /**
   * @param {[number, import("./joint.js").Joint][]} joints
   * @param {import("./joint.js").Observation[]} readings
   * @param {object} numbers the model as numbers
   */
  constructor(joints, readings, numbers) {
    this.numbers = numbers;
    this.size = readings.length;
    /** @type {View[]} */
    this.views = joints.map(([prior, j]) => ({
      lnPrior: Math.log(prior),
      logLikelihood: j.logLikelihood,
      inverse: inverseCovariance(j),
      weights: Float64Array.from(j.weights),
      logMean: readings.map((o) => j.component.logMean[o.dimension]),
    }));
    /** Log readings as they now stand. */
    this.logMm = readings.map((o) => Math.log(o.mm));
    /** Readings left out as unexplained. */
    this.dropped = readings.map(() => false);
  }

  /** How many readings still count. */
  count() {
    return this.dropped.filter((d) => !d).length;
  }

  /** Log of the mixture's likelihood with each view's log likelihood changed. */
  total(change) {
    return lnSumExp(this.views.map((v, k) => v.lnPrior + v.logLikelihood + change(v, k)));
  }

  /** By how much one view's log likelihood grows with the changes. @param {View} v @param {Change[]} changes */
  gainIn(v, changes) {
    let gain = 0;
    for (const [i, to] of changes) {
      const d = to - this.logMm[i];
      gain -= d * v.weights[i];
      for (const [j, toJ] of changes) {
        gain -= 0.5 * d * v.inverse[i * this.size + j] * (toJ - this.logMm[j]);
      }
    }
    return gain;
  }

  /** By how much the log likelihood grows with the changes. @param {Change[]} changes */
  gain(changes) {
    return this.total((v) => this.gainIn(v, changes)) - this.total(() => 0);
  }

  /**
   * The gains when every member moves by the same log shift, for each of several shifts.
   * @param {number[]} members @param {number[]} shifts
   */
  gainsOfShifts(members, shifts) {
    const sums = this.views.map((v) => {
      let linear = 0;
      let square = 0;
      for (const i of members) {
        linear += v.weights[i];
        for (const j of members) square += v.inverse[i * this.size + j];
      }
      return { linear, square };
    });
    const now = this.total(() => 0);
    return shifts.map((d) => (
      this.total((_, k) => -d * sums[k].linear - 0.5 * d * d * sums[k].square) - now
    ));
  }

  /** Residual of reading `i` from its prediction by the others, and its variance. */
  residual(v, i) {
    const variance = 1 / Math.max(v.inverse[i * this.size + i], Number.MIN_VALUE);
    return { residual: v.weights[i] * variance, variance };
  }

  /**
   * The gain when reading `i` is not a reading of its dimension at all but of something with
   * `lnDensity(residual, variance)` about the prediction from the others.
   */
  gainIfUnexplained(i, lnDensity) {
    const gain = (v) => {
      const { residual, variance } = this.residual(v, i);
      return lnDensity(residual, variance) - lnNormal(residual, variance);
    };
    return this.total(gain) - this.total(() => 0);
  }

  /** Distribution of reading `i` given all others. */
  givenOthers(i) {
    const parts = this.views.map((v) => {
      const { residual, variance } = this.residual(v, i);
      const lnWeight = v.lnPrior + v.logLikelihood - lnNormal(residual, variance);
      return { lnWeight, mean: this.logMm[i] - residual, sd: Math.sqrt(variance) };
    });
    const total = lnSumExp(parts.map((p) => p.lnWeight));
    const weighted = parts.map(({ lnWeight, mean, sd }) => ({
      weight: Math.exp(lnWeight - total), mean, sd,
    }));
    return new Predictive(weighted, this.numbers);
  }

  /** Smallest conditional residual of reading `i` over the components, in its own SDs. */
  smallestResidual(i) {
    return Math.min(...this.views.map((v) => {
      const { residual, variance } = this.residual(v, i);
      return Math.abs(residual) / Math.sqrt(variance);
    }));
  }

  /** Squared Mahalanobis distance of the readings, under the component where it is least. */
  distance() {
    return Math.min(...this.views.map((v) => this.logMm.reduce((sum, x, i) => (
      this.dropped[i] ? sum : sum + (x - v.logMean[i]) * v.weights[i]
    ), 0)));
  }

  /** Takes readings for other log values from here on. @param {Change[]} changes */
  accept(changes) {
    const n = this.size;
    for (const v of this.views) {
      v.logLikelihood += this.gainIn(v, changes);
      for (const [i, to] of changes) {
        const d = to - this.logMm[i];
        for (let k = 0; k < n; k += 1) v.weights[k] += d * v.inverse[k * n + i];
      }
    }
    for (const [i, to] of changes) this.logMm[i] = to;
  }

  /** Leaves reading `i` out from here on. @param {number} i */
  drop(i) {
    const n = this.size;
    for (const v of this.views) {
      const { residual, variance } = this.residual(v, i);
      v.logLikelihood -= lnNormal(residual, variance);
      const sd = Math.sqrt(variance);
      const column = Float64Array.from({ length: n }, (_, k) => v.inverse[k * n + i] * sd);
      const weight = v.weights[i] * sd;
      for (let k = 0; k < n; k += 1) {
        v.weights[k] -= weight * column[k];
        for (let m = 0; m < n; m += 1) v.inverse[k * n + m] -= column[k] * column[m];
      }
      // An unused reading must not speak again: its own precision stays positive.
      v.weights[i] = 0;
      for (let k = 0; k < n; k += 1) {
        v.inverse[i * n + k] = 0;
        v.inverse[k * n + i] = 0;
      }
      v.inverse[i * n + i] = 1;
    }
    this.dropped[i] = true;
  }
}
