// Which readings may be built upon while flags are open.
import { SIDES } from "./hand.js";

/** Kinds of flag that call their reading a slip. */
const SLIPS = ["likely_slip", "out_of_range", "whole_hand_unit"];

/**
 * The hands without the readings that an open flag calls a slip: a value of 6.6 mm for a wrist
 * must not draw the other wrist down to 63 mm. Pass only flags nobody has settled.
 * @param {import("./hand.js").Hands} hands
 * @param {import("./flagging.js").Flag[]} open
 * @param {object[]} dimensions
 * @returns {import("./hand.js").Hands}
 */
export function trusted(hands, open, dimensions) {
  const kept = { left: [...hands.left], right: [...hands.right] };
  const leaveOut = (side, key) => {
    dimensions.forEach((d, i) => { if (!key || d.key === key) kept[side][i] = null; });
  };
  for (const flag of open.filter((f) => SLIPS.includes(f.kind))) {
    // The likeliest repair names every reading concerned, for instance both of a swapped pair.
    const values = flag.repairs[0]?.values;
    if (values) for (const [side, key] of values) leaveOut(side, key);
    else for (const side of SIDES) if (!flag.side || flag.side === side) leaveOut(side, flag.dimension);
  }
  return kept;
}
