// What people type ("7 3/8", "19,4 cm", "194") to millimetres, or a clear refusal.

/** Millimetres in one of each unit, by key. */
const MM = { mm: 1, cm: 10, in: 25.4 };

const WORDS = {
  mm: "mm", millimetre: "mm", millimetres: "mm", millimeter: "mm", millimeters: "mm",
  cm: "cm", centimetre: "cm", centimetres: "cm", centimeter: "cm", centimeters: "cm",
  in: "in", inch: "in", inches: "in", '"': "in", "''": "in", "\u201d": "in", "\u2033": "in",
};

/** Smallest and largest value taken as a reading, mm; assumed, and the server's as well. */
const SMALLEST_MM = 1;
const LARGEST_MM = 3000;
/** Longest text read as a value, characters. */
const LONGEST_TEXT = 40;

/** @typedef {{mm: number, unit: "mm" | "cm" | "in"}} Length */
/** @typedef {{code: string, text: string, least: number, most: number}} Refusal a stable code, and what its sentence quotes */

const refuse = (code, text = "") => ({ code, text, least: SMALLEST_MM, most: LARGEST_MM });

/**
 * Reads a typed length. Decimal point and decimal comma are both understood. A unit in the text
 * wins over `defaultUnit`; a fraction without a unit is inches, since no metric tape carries one.
 * @param {string} text @param {"mm" | "cm" | "in"} defaultUnit
 * @returns {Length | Refusal}
 */
export function parseLength(text, defaultUnit) {
  const typed = text.trim();
  if (!typed) return refuse("value_empty");
  const characters = [...typed];
  const notANumber = refuse("value_not_a_number", characters.slice(0, LONGEST_TEXT).join(""));
  if (characters.length > LONGEST_TEXT) return notANumber;
  const [, number, word] = /^([\d .,/\-+\u2212\u00a0]*)(.*)$/su.exec(typed).map((part) => part.trim());
  if (!/\d/.test(number)) return notANumber;
  const read = numberOf(number);
  if (read === null) return notANumber;
  if (read.code) return read;
  const key = word.toLowerCase().replace(/\.+$/, "");
  const unit = word ? Object.hasOwn(WORDS, key) && WORDS[key] : read.isFraction ? "in" : defaultUnit;
  if (!unit) return refuse("unit_unknown", word);
  if (read.value === 0) return refuse("value_zero");
  // Ten to the nanometre: 19.4 cm must be 194 mm, not 193.99999999999997.
  const mm = Math.round(read.value * MM[unit] * 1e6) / 1e6;
  if (mm < SMALLEST_MM) return refuse("value_too_small");
  return mm > LARGEST_MM ? refuse("value_too_large") : { mm, unit };
}

/**
 * The number in a text of digits, separators and signs, and whether it was written as a fraction;
 * `null` is "not a number".
 */
function numberOf(signed) {
  if (/^[-\u2212]/.test(signed)) return refuse("value_negative");
  const text = signed.replace(/^\++/, "");
  const slash = text.indexOf("/");
  if (slash < 0) {
    if (/,\d{3}$/.test(text)) return refuse("value_ambiguous", text);
    const decimal = text.replaceAll(",", ".");
    return /^(\d+\.?\d*|\.\d+)$/.test(decimal) ? { value: Number(decimal), isFraction: false } : null;
  }
  // "7 3/8" and "7-3/8": a whole number, then the fraction.
  const before = text.slice(0, slash).trim();
  const [, whole, numerator] = /^(.*)[ \-\u00a0](.*)$/s.exec(before) ?? [, "0", before];
  const parts = [whole, numerator, text.slice(slash + 1)].map(natural);
  if (parts.includes(null)) return null;
  const [units, above, divisor] = parts;
  if (divisor === 0) return refuse("value_zero_divisor");
  return { value: units + above / divisor, isFraction: true };
}

function natural(text) {
  const digits = text.trim();
  return /^\d{1,9}$/.test(digits) ? Number(digits) : null;
}
