// Which explanation of an odd reading is likeliest: the search over slips.
import { SIDES } from "./hand.js";
import { lnNormal, lnSumExp } from "./normal.js";
import { candidates } from "./slip.js";

/** @typedef {import("./evidence.js").Evidence} Evidence */
/** @typedef {import("./evidence.js").Change} Change */
/** @typedef {import("./joint.js").Observation} Observation */

/**
 * What the readings are taken to have suffered: one reading a slip, two neighbouring fields or two
 * sides an exchange, or every reading of a hand (`side`, or both) another unit.
 * @typedef {{kind: "one", i: number, slip: import("./slip.js").Slip} |
 *   {kind: "neighbours" | "sides", a: number, b: number} |
 *   {kind: "whole", side: import("./hand.js").Side | null, scale: object}} Event
 */

/**
 * An event with the log values it puts right and its log odds against "nothing happened".
 * @typedef {{event: Event, changes: Change[], lnOdds: number}} Explanation
 */

/**
 * Log odds are kept to a millionth: explanations that are equally likely by symmetry are then
 * equal, and the order decides between them, not the last bit.
 * @param {Event} event @param {Change[]} changes @param {number} lnOdds
 * @returns {Explanation}
 */
function explanation(event, changes, lnOdds) {
  return { event, changes, lnOdds: Math.round(lnOdds * 1e6) / 1e6 };
}

/** Whether an explanation says what happened. @param {Explanation} e */
export function names(e) {
  return e.changes.length > 0 || e.event.slip?.kind === "breadth_for_girth";
}

/** Whether an explanation is about reading `i`. @param {Explanation} e @param {number} i */
export function concerns(e, i) {
  return e.event.kind === "one" ? e.event.i === i : e.changes.some(([of]) => of === i);
}

function meets(e, other) {
  return e.event.kind === "one" ? concerns(other, e.event.i) : e.changes.some(([of]) => concerns(other, of));
}

function sameEvent(a, b) {
  if (a.kind !== b.kind) return false;
  if (a.kind === "one") {
    return a.i === b.i && a.slip.kind === b.slip.kind && a.slip.scale === b.slip.scale;
  }
  return a.kind === "whole" ? a.side === b.side && a.scale === b.scale : a.a === b.a && a.b === b.b;
}

/**
 * The explanations about the same readings that are nearly as likely, `best` first, the others
 * likeliest first.
 * @param {Explanation} best @param {Explanation[]} found @param {object} rates
 * @returns {Explanation[]}
 */
export function andClose(best, found, rates) {
  const close = found.filter((e) => !sameEvent(e.event, best.event)
    && e.lnOdds > best.lnOdds - Math.log(rates.close) && meets(best, e));
  close.sort((a, b) => b.lnOdds - a.lnOdds);
  return [best, ...close];
}

/**
 * Every explanation worth a thought, for the readings as they stand.
 * @param {Evidence} evidence @param {Observation[]} readings
 * @param {object[]} dimensions @param {object} rates the checks as numbers
 * @returns {Explanation[]}
 */
export function explanations(evidence, readings, dimensions, rates) {
  const out = [];
  const live = (i) => !evidence.dropped[i];
  const odd = readings.map((_, i) => live(i) && evidence.smallestResidual(i) > rates.unremarkable);
  readings.forEach((o, i) => {
    if (!odd[i]) return;
    const mm = typed(evidence.logMm[i]);
    for (const { slip, trueMm, lnPrior } of candidates(dimensions[o.dimension], mm, rates)) {
      const changes = [[i, Math.log(trueMm)]];
      out.push(explanation({ kind: "one", i, slip }, changes, lnPrior + evidence.gain(changes)));
    }
    const ratio = rates.girth_over_breadth[o.dimension];
    if (ratio !== null) {
      const spread = rates.breadth_spread ** 2;
      const gainAcross = evidence.gainIfUnexplained(i, (r, v) => lnNormal(r + Math.log(ratio), v + spread));
      const across = { kind: "one", i, slip: { kind: "breadth_for_girth" } };
      out.push(explanation(across, [], Math.log(rates.breadth_rate) + gainAcross));
    }
    const gain = evidence.gainIfUnexplained(i, (r, v) => lnUnexplained(r, v, rates));
    const event = { kind: "one", i, slip: { kind: "unexplained" } };
    out.push(explanation(event, [], Math.log(rates.unexplained_rate) + gain));
  });
  out.push(...exchanges(evidence, readings, odd, rates));
  out.push(...wholeHands(evidence, readings, rates));
  return out;
}

function exchanges(evidence, readings, odd, rates) {
  const out = [];
  for (let i = 0; i < readings.length; i += 1) {
    for (let j = i + 1; j < readings.length; j += 1) {
      if (!(odd[i] || odd[j]) || evidence.dropped[i] || evidence.dropped[j]) continue;
      const isSameSide = readings[i].side === readings[j].side;
      const kind = isSameSide && j === i + 1 ? "neighbours"
        : !isSameSide && readings[i].dimension === readings[j].dimension ? "sides" : null;
      if (!kind) continue;
      const changes = [[i, evidence.logMm[j]], [j, evidence.logMm[i]]];
      const rate = kind === "sides" ? rates.sides_rate : rates.neighbours_rate;
      out.push(explanation({ kind, a: i, b: j }, changes, Math.log(rate) + evidence.gain(changes)));
    }
  }
  return out;
}

function wholeHands(evidence, readings, rates) {
  const out = [];
  for (const side of [null, ...SIDES]) {
    const members = [...readings.keys()]
      .filter((i) => !evidence.dropped[i] && (!side || readings[i].side === side));
    const isBoth = SIDES.every((s) => members.some((i) => readings[i].side === s));
    if (members.length < rates.whole_hand_from || (!side && !isBoth)) continue;
    const shifts = rates.scales.map((scale) => -Math.log(scale.factor));
    const gains = evidence.gainsOfShifts(members, shifts);
    rates.scales.forEach((scale, k) => {
      const lnOdds = Math.log(scale.whole_hand_rate) + gains[k];
      if (lnOdds <= rates.hopeless) return;
      const changes = members.map((i) => [i, evidence.logMm[i] + shifts[k]]);
      out.push(explanation({ kind: "whole", side, scale }, changes, lnOdds));
    });
  }
  return out;
}

/**
 * Back from a logarithm to the value as typed: its digits are the typed ones, and half a tenth is
 * rounded the same way whatever the last bit of `exp`.
 * @param {number} logMm
 */
export function typed(logMm) {
  return Math.round(Math.exp(logMm) * 1e6) / 1e6;
}

/** Log density of a recorded value that some unknown error produced. */
function lnUnexplained(residual, variance, rates) {
  const near = lnNormal(residual, variance + rates.unexplained_spread * rates.unexplained_spread);
  const { anything_share: share, anything_width: width } = rates;
  return lnSumExp([Math.log(1 - share) + near, Math.log(share / width)]);
}
