// From explanations to flags: the likeliest is accepted, the rest of the readings looked at again.
import { Evidence } from "./evidence.js";
import { andClose, concerns, explanations, names, typed } from "./explain.js";
import { withReading } from "./hand.js";
import { observations } from "./joint.js";
import { lnSumExp } from "./normal.js";
import { tenth } from "./words.js";

/** @typedef {import("./hand.js").Side} Side */
/** @typedef {import("./explain.js").Explanation} Explanation */

/** @typedef {import("./words.js").Phrase} Phrase */

/** @typedef {{says: Phrase, values: [Side, string, number][]}} Repair */

/**
 * One reason for a second look, in the shape of the server's.
 * @typedef {object} Flag
 * @property {string} key kind, side and dimension
 * @property {string} kind
 * @property {Side | null} side the hand concerned; `null` when both are
 * @property {string | null} dimension key; `null` when the whole hand is concerned
 * @property {Phrase[]} says
 * @property {Repair[]} repairs likeliest first
 */

/** @returns {Flag} */
export function makeFlag(kind, side, dimension, says, repairs = []) {
  const key = `${kind}.${side ?? "both"}.${dimension ?? "hand"}`;
  return { key, kind, side, dimension, says, repairs };
}

/** The checks of one person's hands, repeats apart. */
export class Flagging {
  /**
   * @param {import("./model.js").HandModel} model @param {object} rates the checks as numbers
   * @param {string} population @param {import("./hand.js").Hands} hands
   */
  constructor(model, rates, population, hands) {
    this.model = model;
    this.rates = rates;
    this.population = population;
    this.dimensions = model.numbers.dimensions;
    this.readings = observations(hands)
      .map((o) => ({ ...o, key: this.dimensions[o.dimension].key }));
    this.evidence = new Evidence(model.joints(population, this.readings), this.readings, model.numbers);
  }

  /** @returns {Flag[]} */
  flags() {
    const { evidence, rates, readings } = this;
    const flags = [];
    const flagged = readings.map(() => false);
    // Readings that no slip explains.
    let doubtful = 0;
    // Each turn settles one explanation; more turns than readings cannot be needed.
    for (let turn = 0; turn < readings.length; turn += 1) {
      const found = explanations(evidence, readings, this.dimensions, rates);
      const best = this.strongest(found);
      if (!best) break;
      const close = andClose(best, found, rates);
      flags.push(...this.describe(close));
      if (best.event.kind === "one" && best.changes.length === 0) evidence.drop(best.event.i);
      else evidence.accept(best.changes);
      if (!close.some(names)) doubtful += 1;
      readings.forEach((_, i) => { flagged[i] ||= concerns(best, i); });
    }
    readings.forEach((o, i) => {
      if (flagged[i] || this.isPlain(o, evidence.logMm[i])) return;
      const published = this.published(o);
      if (published.tail(evidence.logMm[i]) < rates.range_tail) {
        flags.push(outOfRange(o, published));
        doubtful += 1;
      }
    });
    const isMost = doubtful >= rates.most_from && doubtful >= rates.most * readings.length;
    if (isMost && !flags.some((f) => f.kind === "whole_hand_unit")) {
      const { population } = this;
      const says = [{ say: "wrong_population", doubtful, count: readings.length, population }];
      return [makeFlag("out_of_range", null, null, says)];
    }
    return flags.length > 0 ? flags : this.jointDistance();
  }

  /** Whether a log value is so near one component's mean that it cannot be out of range. */
  isPlain(o, logMm) {
    const { dimension } = o;
    return this.model.components(this.population).some(([, c]) => {
      const reading = c.within[dimension * (c.logMean.length + 1)] + c.error[dimension] ** 2;
      const variance = reading + this.homeVariance(o);
      return Math.abs(logMm - c.logMean[dimension]) < this.rates.plainly_within * Math.sqrt(variance);
    });
  }

  /** The reading's distribution among published people. */
  published(o) {
    const among = this.model.predict(this.population, this.model.nothing, o.side, o.dimension);
    return among.widened(this.homeVariance(o));
  }

  /** By how much the variance of a log reading is larger when it was taken at home. */
  homeVariance(o) {
    if (!o.isHome) return 0;
    const { home_error: own, home_scale_sd: scale } = this.model.numbers;
    const error = this.dimensions[o.dimension].error_mm / o.mm;
    return scale * scale + (own * own - 1) * error * error;
  }

  /**
   * The likeliest explanation of the reading most in doubt, if the odds call for a flag: odds add
   * up over the explanations of one reading.
   * @param {Explanation[]} found
   */
  strongest(found) {
    if (found.length === 0) return null;
    const best = found.reduce((a, b) => (b.lnOdds >= a.lnOdds ? b : a));
    const together = [...this.readings.keys()].filter((i) => concerns(best, i))
      .map((i) => lnSumExp(found.filter((e) => concerns(e, i)).map((e) => e.lnOdds)));
    return Math.max(...together) > Math.log(this.rates.flag_odds) ? best : null;
  }

  /**
   * The flag, or for two exchanged fields the two flags, of the likeliest explanation and those
   * close to it. When nothing in particular is likeliest but a slip is close, the slip is named.
   * @param {Explanation[]} close
   */
  describe(close) {
    const { readings } = this;
    const [{ event }] = close;
    const known = close.filter(names).slice(0, 2);
    const repairs = known.filter((e) => e.changes.length > 0).map((e) => this.repair(e));
    if (event.kind === "one") {
      if (known.length === 0) return [this.unexplained(event.i)];
      const o = readings[event.i];
      const says = [reading(o), this.expectation(event.i), ...known.flatMap((e) => this.cause(e))];
      return [makeFlag("likely_slip", o.side, o.key, says, repairs)];
    }
    const [best] = known;
    if (best.event.kind === "whole") {
      const { side, scale } = best.event;
      const [[first, log]] = best.changes;
      const { key: dimension, mm } = readings[first];
      const count = best.changes.length;
      const says = [
        side ? { say: "whole_hand", hand: side, count } : { say: "both_hands", count },
        { say: "whole_hand_example", dimension, slip: scale.key, from: tenth(typed(log)), to: tenth(mm) },
      ];
      return [makeFlag("whole_hand_unit", side, null, says, repairs)];
    }
    return best.changes.map(([i]) => (
      makeFlag("likely_slip", readings[i].side, readings[i].key, this.cause(best), repairs)
    ));
  }

  /** What is expected of a reading, and from what. @param {number} i */
  expectation(i) {
    const say = this.readings.length > 1 ? "from_others" : "among_people";
    return { say, ...whole(this.evidence.givenOthers(i).estimate()) };
  }

  /** What happened, for an explanation that knows. @param {Explanation} e @returns {Phrase[]} */
  cause({ event, changes }) {
    const { readings } = this;
    if (event.kind === "neighbours" || event.kind === "sides") {
      return [exchanged(readings[event.a], readings[event.b])];
    }
    if (event.kind !== "one") return [];
    if (event.slip.kind === "breadth_for_girth") {
      const { dimension, mm } = readings[event.i];
      const round = Math.round(mm * this.rates.girth_over_breadth[dimension]);
      return [{ say: "breadth_for_girth", mm: tenth(mm), round }];
    }
    const [[i, log]] = changes;
    const { kind: say, scale } = event.slip;
    const figures = { from: tenth(typed(log)), to: tenth(readings[i].mm) };
    return [say === "scale" ? { say, slip: scale.key, ...figures } : { say, ...figures }];
  }

  /** Replacement values of an explanation that knows them. @param {Explanation} e @returns {Repair} */
  repair({ event, changes }) {
    const values = changes.map(([i, log]) => {
      const o = this.readings[i];
      return [o.side, o.key, Math.round(typed(log) * 100) / 100];
    });
    const isExchange = event.kind === "neighbours" || event.kind === "sides";
    const says = event.kind === "one" ? { say: "use", mm: tenth(values[0][2]) }
      : isExchange ? { say: "exchange" } : { say: "convert", count: values.length };
    return { says, values };
  }

  /** A reading no slip explains: the flag is named by what it contradicts most plainly. */
  unexplained(i) {
    const o = this.readings[i];
    const published = this.published(o);
    if (published.tail(Math.log(o.mm)) < this.rates.range_tail) return outOfRange(o, published);
    const expectation = this.expectation(i);
    const sum = this.brokenIdentity(o);
    if (sum) return makeFlag("identity_broken", o.side, o.key, [sum, expectation]);
    const sides = this.differingSides(o);
    if (sides) return makeFlag("sides_differ", o.side, o.key, [sides, expectation]);
    return makeFlag("rest_of_hand", o.side, o.key, [reading(o), expectation]);
  }

  /** Palm + middle finger against hand length, where all three were read and `o` is one of them. */
  brokenIdentity(o) {
    const triple = ["hand_length", "palm_length", "middle_length"];
    if (!triple.includes(o.key)) return null;
    const [length, palm, middle] = triple
      .map((key) => this.readings.find((r) => r.side === o.side && r.key === key));
    if (!length || !palm || !middle) return null;
    const variance = [length, palm, middle]
      .reduce((sum, r) => (
        sum + ((r.isHome ? this.model.numbers.home_error : 1) * this.dimensions[r.dimension].error_mm) ** 2
      ), 0);
    const gap = length.mm - palm.mm - middle.mm;
    const isBroken = Math.abs(gap) > this.rates.names_the_flag * Math.sqrt(variance);
    return isBroken ? sumOf(palm.mm, middle.mm, length.mm) : null;
  }

  /** The same dimension of the other hand, where it was read and differs too much. */
  differingSides(o) {
    const other = this.readings.find((r) => r.side !== o.side && r.dimension === o.dimension);
    if (!other) return null;
    const alone = withReading(this.model.nothing, other.side, other.dimension, other.mm);
    const e = this.model.predict(this.population, alone, o.side, o.dimension).estimate();
    // A 90 % interval spans 2 x 1.645 SDs of the difference.
    const sd = (e.high_mm - e.low_mm) / 3.29;
    return Math.abs(o.mm - e.mm) > this.rates.names_the_flag * sd ? differing(o, other) : null;
  }

  /** All readings together against chi-squared. */
  jointDistance() {
    const count = this.evidence.count();
    if (count === 0 || !(this.evidence.distance() > this.rates.joint_limit[count - 1])) return [];
    return [makeFlag("rest_of_hand", null, null, [{ say: "unusual_together", count }])];
  }
}

function outOfRange(o, published) {
  const expectation = { say: "among_people", ...whole(published.estimate()) };
  return makeFlag("out_of_range", o.side, o.key, [reading(o), expectation]);
}

/** An estimate in whole millimetres. */
function whole({ mm, low_mm: low, high_mm: high }) {
  return { mm: Math.round(mm), low: Math.round(low), high: Math.round(high) };
}

function reading(o) {
  return { say: "reading", dimension: o.key, mm: tenth(o.mm) };
}

function exchanged(a, b) {
  const figures = { dimension: a.key, mm: tenth(a.mm), other_mm: tenth(b.mm) };
  return a.side === b.side ? { say: "fields_exchanged", ...figures, other: b.key }
    : { say: "sides_exchanged", ...figures, side: a.side, other_side: b.side };
}

function sumOf(palm, middle, length) {
  return {
    say: "identity", palm: tenth(palm), middle: tenth(middle), sum: tenth(palm + middle), length: tenth(length),
  };
}

function differing(o, other) {
  return {
    say: "differing", dimension: o.key, side: o.side, mm: tenth(o.mm), other_side: other.side,
    other_mm: tenth(other.mm), apart: tenth(Math.abs(o.mm - other.mm)),
  };
}
