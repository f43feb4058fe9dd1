// A prediction on the log scale: one normal distribution, or two with weights.
import { cdf, sf } from "./normal.js";

/** @typedef {{weight: number, mean: number, sd: number}} Part */
/** @typedef {{mm: number, low_mm: number, high_mm: number}} Estimate */

/** Weighted normal distributions of a log value. */
export class Predictive {
  /**
   * @param {Part[]} parts one or two; weights need not add up to one
   * @param {{negligible: number, accuracy: number, interval: [number, number][]}} numbers
   */
  constructor(parts, numbers) {
    const total = parts.reduce((sum, p) => sum + p.weight, 0);
    this.numbers = numbers;
    /** @type {Part[]} */
    this.parts = parts
      .map((p) => ({ ...p, weight: total > 0 ? p.weight / total : 0.5 }))
      .filter((p) => p.weight > numbers.negligible || parts.length === 1);
  }

  /** The same with this much more variance. @param {number} variance */
  widened(variance) {
    for (const part of this.parts) part.sd = Math.sqrt(part.sd * part.sd + variance);
    return this;
  }

  /** Probability of a log value at or below `x`. @param {number} x */
  cdf(x) {
    return this.parts.reduce((sum, p) => sum + p.weight * cdf((x - p.mean) / p.sd), 0);
  }

  /** Probability of a value at least as far out on its own side, doubled. @param {number} x */
  tail(x) {
    const above = this.parts.reduce((sum, p) => sum + p.weight * sf((x - p.mean) / p.sd), 0);
    return Math.min(2 * Math.min(this.cdf(x), above), 1);
  }

  /**
   * Log value below which the probability is `p`, of several parts by Newton's method from the
   * quantile of the normal distribution with the same mean and variance, kept between the quantiles
   * of the parts.
   * @param {number} p
   * @param {number} z the standard normal quantile of `p`
   */
  quantile(p, z) {
    const { parts, numbers: { accuracy } } = this;
    const sum = (of) => parts.reduce((total, part) => total + part.weight * of(part), 0);
    const ends = parts.map((part) => part.mean + z * part.sd);
    let low = Math.min(...ends);
    let high = Math.max(...ends);
    const mean = sum((part) => part.mean);
    const variance = sum((part) => part.sd ** 2 + (part.mean - mean) ** 2);
    let x = Math.min(Math.max(mean + z * Math.sqrt(variance), low), high);
    while (high - low > accuracy) {
      const above = this.cdf(x) - p;
      if (above < 0) low = x;
      else high = x;
      const density = sum((part) => Math.exp(-0.5 * ((x - part.mean) / part.sd) ** 2) / part.sd);
      const newton = x - (above * Math.sqrt(2 * Math.PI)) / density;
      const next = newton > low && newton < high ? newton : (low + high) / 2;
      const moved = Math.abs(next - x);
      x = next;
      if (moved < accuracy) break;
    }
    return x;
  }

  /** Median and 90 % interval in mm. @returns {Estimate} */
  estimate() {
    const [lower, upper] = this.numbers.interval;
    const mm = (p, z) => Math.exp(this.quantile(p, z));
    return { mm: mm(0.5, 0), low_mm: mm(...lower), high_mm: mm(...upper) };
  }
}
