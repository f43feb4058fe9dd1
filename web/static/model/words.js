// What flags and refusals say, in the words of a page: each sentence is a template whose `{figures}`
// a flag or a refusal carries. Follows `server/src/words.rs`.

/**
 * One sentence of a flag, or the text of a button: its template's key, and its figures.
 * @typedef {{say: string, [figure: string]: string | number}} Phrase
 */

/** A length as it is shown: to a tenth of a millimetre. @param {number} mm */
export function tenth(mm) {
  return Math.round(mm * 10) / 10;
}

/** A number as it is written: to two decimals at most, with the language's decimal sign. */
export function number(words, value) {
  return String(Math.round(value * 100) / 100).replace(".", words.measure.point);
}

/** Published people by their key: "women", "girls, 9 years". */
export function population(words, key) {
  const [who, age] = key.split("_");
  const name = words.population[who] ?? key;
  return age ? `${name}, ${age} ${words.population.years}` : name;
}

/** A text figure: a key by its word where the figure's name says what it is a key of, else itself. */
function word(words, name, text) {
  switch (name) {
    case "dimension": case "other": return words.dimension[text].name;
    case "side": case "other_side": return words.on_side[text];
    case "hand": return words.side[text];
    case "slip": return words.slip[text];
    case "population": return population(words, text);
    default: return text;
  }
}

/** A template with its figures filled in. */
export function fill(words, template, figures) {
  return template.replace(/\{(\w+)\}/g, (_, name) => {
    const value = figures[name];
    return typeof value === "number" ? number(words, value) : word(words, name, value ?? "");
  });
}

/** What a flag or a repair says. @param {object} words @param {Phrase | Phrase[]} says */
export function sentence(words, says) {
  return [says].flat().map((phrase) => fill(words, words.say[phrase.say], phrase)).join(" ");
}

/** The sentence of a refused length. @param {object} words @param {{code: string}} refused */
export function refusal(words, refused) {
  return fill(words, words.error[refused.code], refused);
}
