// The slips of hand and eye that are looked for: how rare each is, and what it does to a value.

/**
 * What may have happened to one reading.
 * @typedef {{kind: "scale", scale: object} | {kind: "swapped_digits"} |
 *   {kind: "ten_centimetre_mark"} | {kind: "breadth_for_girth"} | {kind: "unexplained"}} Slip
 */

/**
 * Values the reading may stand for. The last part of `lnPrior` turns a density of the true
 * logarithm into one of the recorded logarithm: equal widths in mm are unequal on logarithms.
 * @param {{instrument: string}} dimension @param {number} mm @param {object} rates the checks as numbers
 * @returns {{slip: Slip, trueMm: number, lnPrior: number}[]}
 */
export function candidates(dimension, mm, rates) {
  const out = rates.scales.map((scale) => ({
    slip: { kind: "scale", scale }, trueMm: mm / scale.factor, lnPrior: Math.log(scale.rate),
  }));
  const offset = (trueMm) => Math.log(mm / trueMm);
  const swaps = swappedDigits(mm);
  const each = rates.swapped_digits_rate / Math.max(swaps.length, 1);
  for (const y of swaps) {
    out.push({ slip: { kind: "swapped_digits" }, trueMm: y, lnPrior: Math.log(each) + offset(y) });
  }
  const y = mm - 100;
  if (dimension.instrument !== "calliper" && y > 0) {
    const lnPrior = Math.log(rates.ten_centimetre_rate) + offset(y);
    out.push({ slip: { kind: "ten_centimetre_mark" }, trueMm: y, lnPrior });
  }
  return out;
}

/** Values whose whole millimetres, with two neighbouring digits exchanged, read as `mm`. */
function swappedDigits(mm) {
  const whole = Math.trunc(mm);
  if (!(whole >= 10 && whole < 100000)) return [];
  const fraction = mm - whole;
  const digits = String(whole);
  const out = [];
  for (let i = 1; i < digits.length; i += 1) {
    const swapped = digits.slice(0, i - 1) + digits[i] + digits[i - 1] + digits.slice(i + 1);
    if (swapped !== digits && swapped[0] !== "0") out.push(Number(swapped) + fraction);
  }
  return out;
}
