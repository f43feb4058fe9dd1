// The checks on the phone: the same answers as the server's, from the same numbers, without signal.
//
// Each file beside this one follows one file of the analysis library, and a test holds both to the
// same flags and figures on a thousand hands.
import { Flagging } from "./flagging.js";
import { SIDES, emptyHands, summary, withReading } from "./hand.js";
import { HandModel } from "./model.js";
import { plan } from "./plan.js";
import { repeatFlags } from "./repeats.js";
import { trusted } from "./trusted.js";
import { parseLength } from "./units.js";

/** @typedef {import("./hand.js").Side} Side */
/** @typedef {import("./hand.js").Hands} Hands */
/** @typedef {import("./flagging.js").Flag} Flag */
/** @typedef {import("./predictive.js").Estimate} Estimate */

/** Everything the measuring page asks. Dimensions and populations go by their keys. */
export class Checks {
  /** @param {{model: object, checks: object, plan: object}} numbers as `/api/model` sends them */
  constructor({ model, checks, plan: planning }) {
    this.model = new HandModel(model);
    this.rates = checks;
    this.planning = planning;
    this.dimensions = model.dimensions;
    this.index = new Map(model.dimensions.map((d, i) => [d.key, i]));
  }

  /** Whether this population is known. @param {string} population */
  knows(population) {
    return this.model.components(population).length > 0;
  }

  /**
   * Both hands from readings in any order; repeats are summarised, unknown dimensions left out.
   * Where the workshop has read a dimension, what was read at home of it (`self`) no longer counts.
   * @param {{side: Side, dimension: string, mm: number, origin?: string}[]} readings
   * @returns {Hands}
   */
  hands(readings) {
    const hands = emptyHands(this.dimensions.length);
    for (const side of SIDES) {
      for (const [key, i] of this.index) {
        const all = readings.filter((r) => r.side === side && r.dimension === key);
        const values = (isHome) => all.filter((r) => (r.origin === "self") === isHome).map((r) => r.mm);
        hands[side][i] = summary(values(false)) ?? summary(values(true), true);
      }
    }
    return hands;
  }

  /**
   * What a tape would read for one dimension given everything else that was read: median and 90 %
   * interval of one reading.
   * @param {string} population @param {Hands} hands @param {Side} side @param {string} dimension
   * @returns {Estimate}
   */
  expected(population, hands, side, dimension) {
    return this.model.predict(population, hands, side, this.index.get(dimension)).estimate();
  }

  /**
   * Checks both hands. Flags come in the order left hand, right hand, both; within a hand in
   * measuring order.
   * @param {string} population @param {Hands} hands
   * @returns {Flag[]}
   */
  checkHands(population, hands) {
    const place = (flag) => (flag.side ? SIDES.indexOf(flag.side) : SIDES.length) * 100
      + (flag.dimension ? this.index.get(flag.dimension) : -1);
    return [
      ...new Flagging(this.model, this.rates, population, hands).flags(),
      ...repeatFlags(hands, this.model.numbers, this.rates),
    ].sort((a, b) => place(a) - place(b));
  }

  /**
   * Flags about one reading as it is typed: the flags of the hands with this reading in place of
   * any other of its dimension, as far as they concern it.
   * @param {string} population @param {Hands} hands @param {Side} side
   * @param {string} dimension @param {number} mm
   * @returns {Flag[]}
   */
  check(population, hands, side, dimension, mm) {
    const added = withReading(hands, side, this.index.get(dimension), mm);
    return this.checkHands(population, added)
      .filter((f) => (!f.side || f.side === side) && (!f.dimension || f.dimension === dimension));
  }

  /**
   * What is worth taking next on the hands wanted, best first, and which of them are known well
   * enough for a draft. Pass trusted hands.
   * @param {string} population @param {Hands} hands @param {Side[]} sides
   * @returns {{enough: Side[], next: [Side, string][]}}
   */
  next(population, hands, sides) {
    const planned = plan(this.model, this.planning, population, hands, sides, this.planning.tolerance_mm);
    const next = planned.next.map(({ side, dimension }) => [side, this.dimensions[dimension].key]);
    const enough = sides.filter((side) => !planned.short.some((one) => one.side === side));
    return { enough, next };
  }

  /** A typed length in mm, or the code of its refusal with what the sentence quotes. @param {string} text @param {"mm" | "cm" | "in"} unit */
  parseLength(text, unit) {
    return parseLength(text, unit);
  }

  /** The hands without the readings that a flag nobody has settled calls a slip. @param {Hands} hands @param {Flag[]} open */
  trusted(hands, open) {
    return trusted(hands, open, this.dimensions);
  }
}

/** The checks from the numbers that `/api/model` sends. @param {object} numbers @returns {Checks} */
export function load(numbers) {
  return new Checks(numbers);
}
