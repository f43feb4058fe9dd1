// Repeated readings that disagree by more than the measuring error.
import { makeFlag } from "./flagging.js";
import { SIDES } from "./hand.js";
import { tenth } from "./words.js";

/**
 * Flags of every dimension whose repeats spread too far.
 * @param {import("./hand.js").Hands} hands @param {object} numbers the model as numbers
 * @param {{critical_range: number[]}} rates critical range of 2, 3, ... standard normal readings
 * @returns {import("./flagging.js").Flag[]}
 */
export function repeatFlags(hands, { dimensions, home_error: homeError }, { critical_range: ranges }) {
  const flags = [];
  for (const side of SIDES) {
    hands[side].forEach((s, i) => {
      if (!s || s.count < 2) return;
      const { error_mm: error, key } = dimensions[i];
      const own = s.isHome ? homeError : 1;
      const usual = (ranges[s.count - 2] ?? ranges[ranges.length - 1]) * (own * error);
      if (s.spreadMm <= usual) return;
      const says = [{
        say: "repeats", dimension: key, count: s.count, apart: tenth(s.spreadMm), usual: Math.floor(usual),
      }];
      flags.push(makeFlag("repeats_disagree", side, key, says));
    });
  }
  return flags;
}
