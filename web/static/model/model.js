// The hand model: what a tape would read next, given what was read.
import { emptyHands } from "./hand.js";
import { joint, observations, posterior, predict } from "./joint.js";
import { lnSumExp } from "./normal.js";
import { populations } from "./population.js";
import { Predictive } from "./predictive.js";

/** @typedef {import("./hand.js").Side} Side */
/** @typedef {import("./hand.js").Hands} Hands */
/** @typedef {import("./joint.js").Joint} Joint */
/** @typedef {import("./joint.js").Observation} Observation */

/** Published figures, ready for use. */
export class HandModel {
  /** @param {object} numbers the model as numbers, as the server sends it */
  constructor(numbers) {
    this.numbers = numbers;
    this.components = populations(numbers);
    this.nothing = emptyHands(numbers.dimensions.length);
  }

  /**
   * The readings conditioned under each component of a population, with its prior weight.
   * @param {string} population @param {Observation[]} readings
   * @returns {[number, Joint][]}
   */
  joints(population, readings) {
    return this.components(population).map(([prior, c]) => [prior, joint(c, readings)]);
  }

  /**
   * Distribution of one reading, given everything else that was read.
   * @param {string} population @param {Hands} hands @param {Side} side @param {number} dimension
   * @returns {Predictive}
   */
  predict(population, hands, side, dimension) {
    const at = { side, dimension };
    const others = observations(hands).filter((o) => o.side !== side || o.dimension !== dimension);
    const joints = this.joints(population, others);
    const weights = posteriorWeights(joints);
    const parts = joints.map(([, j], k) => {
      const { mean, variance } = predict(j, at);
      return { weight: weights[k], mean, sd: Math.sqrt(variance) };
    });
    return new Predictive(parts, this.numbers);
  }

  /**
   * Central value in mm and covariance on the log scale of every true dimension of both hands,
   * left then right, mixture included.
   * @param {string} population @param {Hands} hands
   * @returns {{mm: Float64Array, covariance: Float64Array}}
   */
  belief(population, hands) {
    const joints = this.joints(population, observations(hands));
    const weights = posteriorWeights(joints);
    const parts = joints.map(([, j], k) => ({ j, weight: weights[k] }))
      .filter(({ weight }) => weight > this.numbers.negligible)
      .map(({ j, weight }) => ({ weight, ...posterior(j) }));
    const n = 2 * this.numbers.dimensions.length;
    const mean = new Float64Array(n);
    for (const p of parts) for (let i = 0; i < n; i += 1) mean[i] += p.weight * p.mean[i];
    const covariance = new Float64Array(n * n);
    for (const p of parts) {
      for (let i = 0; i < n; i += 1) {
        for (let j = 0; j < n; j += 1) {
          const apart = (p.mean[i] - mean[i]) * (p.mean[j] - mean[j]);
          covariance[i * n + j] += p.weight * (p.covariance[i * n + j] + apart);
        }
      }
    }
    return { mm: mean.map(Math.exp), covariance };
  }
}

/** Weight of each component after the readings: prior times likelihood. @param {[number, Joint][]} joints */
function posteriorWeights(joints) {
  const terms = joints.map(([prior, j]) => Math.log(prior) + j.logLikelihood);
  const total = lnSumExp(terms);
  return terms.map((term) => Math.exp(term - total));
}
