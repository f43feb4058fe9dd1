// Sentences of flags: what, the figures, and why. Readings carry their dimension's name.

/** @typedef {{side: import("./hand.js").Side, name: string, mm: number}} Named */

/** A length as people write it: whole millimetres, or one decimal where it has one. @param {number} value */
export function mm(value) {
  const rounded = Math.round(value * 10) / 10;
  return Math.abs(rounded - Math.round(rounded)) < 1e-9 ? rounded.toFixed(0) : rounded.toFixed(1);
}

/** "Middle finger length 97 mm." @param {Named} o */
export function reading(o) {
  return `${o.name} ${mm(o.mm)} mm.`;
}

/** "From the other readings 79 mm is expected, 72 to 86 nine times in ten." */
export function expectation(basis, e) {
  const whole = (value) => value.toFixed(0);
  return `${basis} ${whole(e.mm)} mm is expected, ${whole(e.low_mm)} to ${whole(e.high_mm)} nine times in ten.`;
}

/** "79 with its digits swapped reads 97." @param {import("./slip.js").Slip} slip */
export function cause(slip, recordedMm, trueMm) {
  const [from, to] = [mm(trueMm), mm(recordedMm)];
  switch (slip.kind) {
    case "scale": return `${from} mm ${slip.scale.words} ${to}.`;
    case "swapped_digits": return `${from} with its digits swapped reads ${to}.`;
    case "ten_centimetre_mark": return `${from} measured from the 10 cm mark of the tape reads ${to}.`;
    default: return "";
  }
}

/** "Index finger length 80 mm and middle finger length 71 mm fit better the other way round." */
export function exchanged(a, b) {
  return a.side === b.side
    ? `${a.name} ${mm(a.mm)} mm and ${b.name.toLowerCase()} ${mm(b.mm)} mm fit better the other way round.`
    : `${a.name}, ${a.side} ${mm(a.mm)} mm and ${b.side} ${mm(b.mm)} mm, fits better with the sides exchanged.`;
}

/** "Palm length 104 mm and middle finger length 79 mm add up to 183 mm; hand length reads 191 mm." */
export function identity(palm, middle, length) {
  return `Palm length ${mm(palm)} mm and middle finger length ${mm(middle)} mm add up to `
    + `${mm(palm + middle)} mm; hand length reads ${mm(length)} mm.`;
}

/** "Index finger length, left 71 mm, right 80 mm: two hands of one person seldom differ by 9 mm." */
export function differing(o, other) {
  return `${o.name}, ${o.side} ${mm(o.mm)} mm, ${other.side} ${mm(other.mm)} mm: `
    + `two hands of one person seldom differ by ${mm(Math.abs(o.mm - other.mm))} mm.`;
}

/** "All 12 readings of left hand look as if they were entered in another unit. ..." */
export function wholeHand(count, side, example) {
  const which = side ? `${side} hand` : "both hands";
  return `All ${count} readings of ${which} look as if they were entered in another unit.${example}`;
}

/** " Hand length: 183 mm in centimetres reads 18.3." @param {Named} o */
export function wholeHandExample(o, trueMm, scale) {
  return ` ${o.name}: ${mm(trueMm)} mm ${scale.words} ${mm(o.mm)}.`;
}

export function wrongPopulation(doubtful, all, population) {
  return `${doubtful} of ${all} readings do not fit the published figures for ${population}. `
    + "Is the reference right, and the unit?";
}

export function unusualTogether(count) {
  return `No single reading stands out, but the ${count} together are an unusual hand: fewer than `
    + "one in ten thousand is as far from the published ones. Look over them once.";
}

export function repeats(name, count, spread, usual) {
  return `${name}: ${count} readings lie ${mm(spread)} mm apart; up to ${mm(usual)} mm is usual for `
    + "this dimension. Take one more.";
}

export const FROM_OTHERS = "From the other readings";
export const AMONG_PEOPLE = "Among published people";

/** Texts of the buttons that repair. */
export const USE = (value) => `Use ${mm(value)} mm`;
export const EXCHANGE = "Exchange the two";
export const CONVERT = (count) => `Convert all ${count} readings`;
