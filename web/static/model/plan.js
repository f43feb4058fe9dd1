// Which measurement is worth taking next, and whether enough is known already.
//
// One more reading of dimension `c` with error variance `e` shrinks the variance of dimension `t`
// by `cov(t, c)^2 / (var(c) + e)`, whatever it will read. The reading to take next takes most off
// the uncertainty of the draft, per second it costs.
import { SIDES } from "./hand.js";

/** @typedef {import("./hand.js").Side} Side */

/**
 * @typedef {object} Plan
 * @property {boolean} enough whether every toleranced dimension of the hands wanted is known well enough
 * @property {{side: Side, dimension: number, halfWidthMm: number}[]} short what is not, widest first
 * @property {{side: Side, dimension: number, gain: number}[]} next readings that could be taken, best first
 */

/**
 * Plans the next reading for the hands wanted. Readings are taken on those hands alone; what was
 * read of the other hand counts.
 * @param {import("./model.js").HandModel} model @param {object} numbers of the plan
 * @param {string} population @param {import("./hand.js").Hands} hands
 * @param {Side[]} sides @param {number} toleranceMm
 * @returns {Plan}
 */
export function plan(model, numbers, population, hands, sides, toleranceMm) {
  const { dimensions } = model.numbers;
  const { mm, covariance } = model.belief(population, hands);
  const n = mm.length;
  const wanted = sides.flatMap((side) => dimensions.map((_, dimension) => (
    { side, dimension, at: SIDES.indexOf(side) * dimensions.length + dimension }
  )));
  const halfWidth = (at, variance) => numbers.half_width * Math.sqrt(Math.max(variance, 0)) * mm[at];
  const loss = ({ dimension, at }, variance) => {
    const width = halfWidth(at, variance);
    const share = numbers.share[dimension];
    const over = share === null ? 0 : Math.max(Math.log(width / (share * toleranceMm)), 0);
    return numbers.sensitivity[dimension] * (over + numbers.inside_weight * width * width);
  };
  const short = wanted
    .map(({ side, dimension, at }) => ({ side, dimension, halfWidthMm: halfWidth(at, covariance[at * n + at]) }))
    .filter(({ dimension, halfWidthMm }) => (
      numbers.share[dimension] !== null && halfWidthMm > numbers.share[dimension] * toleranceMm
    ))
    .sort((a, b) => b.halfWidthMm - a.halfWidthMm);
  const next = wanted
    .filter(({ side, dimension }) => (hands[side][dimension]?.count ?? 0) < numbers.most_readings)
    .map(({ side, dimension, at }) => {
      const error = dimensions[dimension].error_mm / mm[at];
      const own = covariance[at * n + at] + error * error;
      const gain = wanted.reduce((sum, t) => {
        const before = covariance[t.at * n + t.at];
        const after = before - covariance[t.at * n + at] ** 2 / own;
        return sum + loss(t, before) - loss(t, after);
      }, 0);
      // To a thousand-millionth: equal gains of left and right are then equal, and stand in the
      // order of the hands on every machine.
      return { side, dimension, gain: Math.round((gain / numbers.seconds[dimension]) * 1e9) / 1e9 };
    })
    .sort((a, b) => b.gain - a.gain);
  return { enough: short.length === 0, short, next };
}
