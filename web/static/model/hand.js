// What was measured of both hands: repeats reduced to their median, gaps left as gaps. Dimensions
// are positions in the model's list.

/** @typedef {"left" | "right"} Side */

/**
 * @typedef {object} Summary
 * @property {number} count readings behind it
 * @property {number} medianMm
 * @property {number} spreadMm largest reading less the smallest
 * @property {boolean} isHome whether the performer took them at home, with a larger error
 */

/** @typedef {{left: (Summary | null)[], right: (Summary | null)[]}} Hands */

/** @type {Side[]} */
export const SIDES = ["left", "right"];

/** Summary of readings in mm, in any order. @param {number[]} readings @returns {Summary | null} */
export function summary(readings, isHome = false) {
  if (readings.length === 0) return null;
  const sorted = [...readings].sort((a, b) => a - b);
  const middle = Math.floor(sorted.length / 2);
  const medianMm = sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
  return { count: sorted.length, medianMm, spreadMm: sorted[sorted.length - 1] - sorted[0], isHome };
}

/** Hands nothing is known of. @param {number} dimensions @returns {Hands} */
export function emptyHands(dimensions) {
  return { left: Array(dimensions).fill(null), right: Array(dimensions).fill(null) };
}

/**
 * The same hands with one dimension of one hand read as `mm` and nothing else.
 * @param {Hands} hands @param {Side} side @param {number} dimension @param {number} mm
 * @returns {Hands}
 */
export function withReading(hands, side, dimension, mm) {
  const changed = { left: [...hands.left], right: [...hands.right] };
  changed[side][dimension] = summary([mm]);
  return changed;
}
