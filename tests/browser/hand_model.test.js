// The checks of the phone against the checks of the server: the same flags, repairs and figures for
// two thousand seeded people with planted slips, on the same numbers, and the same sentences from the
// same words in every language.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { existsSync } from "node:fs";
import { join, resolve } from "node:path";
import { before, test } from "node:test";
import { load } from "../../web/static/model/checks.js";
import { plan } from "../../web/static/model/plan.js";
import { sentence } from "../../web/static/model/words.js";

const PEOPLE = 2000;
const SEED = 20;
/** Figures agree to this, mm. */
const AGREEMENT_MM = 1e-6;

let numbers, lengths, cases, checks;

/** The lines of JSON that a built example prints. */
function printed(example, args = [], input = "") {
  const target = process.env.CARGO_TARGET_DIR ?? resolve(import.meta.dirname, "../../target");
  const path = join(target, "debug", "examples", example);
  if (!existsSync(path)) throw new Error(`${path} is missing: run tests/run, or cargo build --all-targets first`);
  const run = spawnSync(path, args, { input, encoding: "utf8", maxBuffer: 1 << 28 });
  assert.equal(run.status, 0, run.stderr);
  return run.stdout.trimEnd().split("\n").map((line) => JSON.parse(line));
}

before(() => {
  // First the numbers, then typed lengths, then people.
  [numbers, lengths, ...cases] = printed("hand_cases", [String(PEOPLE), String(SEED)]);
  checks = load(numbers);
});

const handsOf = (person) => checks.hands([
  ...person.readings.map(([side, dimension, mm]) => ({ side, dimension, mm, origin: "form" })),
  ...person.home.map(([side, dimension, mm]) => ({ side, dimension, mm, origin: "self" })),
]);

const keyOf = (index) => numbers.model.dimensions[index].key;

/** Flags without their repaired values, and the values apart. */
function parted(flags) {
  return {
    said: flags.map(({ kind, side, dimension, says, repairs }) => ({
      kind, side, dimension, says,
      repairs: repairs.map((repair) => [repair.says, repair.values.map(([s, d]) => `${s} ${d}`)]),
    })),
    values: flags.flatMap((flag) => flag.repairs.flatMap(({ values }) => values.map(([, , mm]) => mm))),
  };
}

function assertSameFlags(ours, theirs, about) {
  const [a, b] = [parted(ours), parted(theirs)];
  assert.deepEqual(a.said, b.said, about);
  a.values.forEach((mm, i) => assert.ok(Math.abs(mm - b.values[i]) <= AGREEMENT_MM, `${about}: ${mm} for ${b.values[i]}`));
}

test("two thousand people with planted slips carry the same flags on the phone as on the server", () => {
  assert.equal(cases.length, PEOPLE);
  cases.forEach((person, i) => {
    const flags = checks.checkHands(person.population, handsOf(person));
    assertSameFlags(flags, person.flags, `person ${i}, ${person.population}, ${person.plant}`);
  });
});

test("a reading is answered the same as it is typed", () => {
  cases.forEach((person, i) => {
    const { side, dimension, mm, flags } = person.step;
    const ours = checks.check(person.population, handsOf(person), side, dimension, mm);
    assertSameFlags(ours, flags, `person ${i}, ${person.population}, ${side} ${dimension} ${mm}`);
  });
});

test("the next reading is expected within the same range to a millionth of a millimetre", () => {
  let worst = 0;
  cases.forEach((person, i) => {
    const hands = handsOf(person);
    const trusted = checks.trusted(hands, person.flags);
    for (const [from, expected] of [[hands, person.expected], [trusted, person.expected_trusted]]) {
      for (const [side, dimension, ...theirs] of expected) {
        const { mm, low_mm, high_mm } = checks.expected(person.population, from, side, dimension);
        [mm, low_mm, high_mm].forEach((value, k) => {
          const off = Math.abs(value - theirs[k]);
          worst = Math.max(worst, off);
          assert.ok(off <= AGREEMENT_MM, `person ${i}, ${person.population}, ${side} ${dimension}: ${value} for ${theirs[k]}`);
        });
      }
    }
  });
  console.log(`# figures agree to ${worst.toExponential(1)} mm`);
});

test("the same readings are proposed next, and enough is known at the same point", () => {
  let worst = 0;
  const close = (ours, theirs, about) => {
    worst = Math.max(worst, Math.abs(ours - theirs));
    assert.ok(Math.abs(ours - theirs) <= AGREEMENT_MM, `${about}: ${ours} for ${theirs}`);
  };
  cases.forEach((person, i) => {
    const { sides, tolerance_mm: tolerance, short, next } = person.plan;
    const hands = handsOf(person);
    const ours = plan(checks.model, numbers.plan, person.population, hands, sides, tolerance);
    const about = `person ${i}, ${person.population}, ${sides} to ${tolerance} mm`;
    const places = (list, name) => list.map((one) => `${one.side} ${name(one.dimension)}`);
    assert.deepEqual(places(ours.next, keyOf), places(next, String), about);
    next.forEach((one, k) => close(ours.next[k].gain, one.gain, `${about}, place ${k}`));
    // Widths of left and right may be equal but for the last digit: each is looked up.
    const widths = new Map(ours.short.map((one) => [`${one.side} ${keyOf(one.dimension)}`, one.halfWidthMm]));
    assert.equal(widths.size, short.length, about);
    for (const one of short) close(widths.get(`${one.side} ${one.dimension}`), one.half_width_mm, about);
  });
  console.log(`# the plan agrees to ${worst.toExponential(1)}`);
});

test("the comparison covers every kind of flag, every kind of slip and clean hands", () => {
  const kinds = new Map();
  const causes = new Map();
  const tally = (map, key) => map.set(key, (map.get(key) ?? 0) + 1);
  const marks = [
    ...numbers.checks.scales.map((scale) => scale.key),
    "swapped_digits", "ten_centimetre_mark", "breadth_for_girth", "fields_exchanged", "sides_exchanged",
  ];
  for (const person of cases) {
    for (const flag of person.flags) {
      tally(kinds, flag.kind);
      for (const phrase of flag.says) tally(causes, phrase.slip ?? phrase.say);
    }
  }
  const wanted = [
    "out_of_range", "likely_slip", "rest_of_hand", "sides_differ", "repeats_disagree",
    "identity_broken", "whole_hand_unit",
  ];
  for (const kind of wanted) assert.ok(kinds.get(kind) >= 3, `${kind}: ${kinds.get(kind) ?? 0}`);
  for (const mark of marks) assert.ok(causes.get(mark) >= 3, `${mark}: ${causes.get(mark) ?? 0}`);
  const clean = cases.filter((person) => person.flags.length === 0).length;
  assert.ok(clean >= 100, `${clean} hands without a flag`);
  const atHome = cases.filter((person) => person.home.length > 0);
  assert.ok(atHome.filter((person) => person.flags.length > 0).length >= 5, "flags on what was read at home");
  assert.ok(atHome.filter((person) => person.readings.length > 0).length >= 20, "read at home and in the workshop");
  const populations = new Set(cases.map((person) => person.population));
  assert.equal(populations.size, 48, "women, men, adults, and children of 15 ages: girls, boys, not stated");
});

test("a flag says the same on the phone as on the server, in every language", () => {
  const said = cases.flatMap((person) => (
    person.flags.flatMap((flag) => [flag.says, ...flag.repairs.map((repair) => repair.says)])));
  // Fewer than one hand in ten thousand carries this one.
  said.push([{ say: "unusual_together", count: 12 }]);
  const lines = said.map((says) => JSON.stringify(says)).join("\n");
  const templates = new Set(said.flat().map((phrase) => phrase.say));
  for (const language of ["en", "de"]) {
    const [words, ...theirs] = printed("sentences", [language], lines);
    assert.deepEqual(new Set(Object.keys(words.say)), templates, "every template was filled, and none was missing");
    assert.deepEqual(said.map((says) => sentence(words, says)), theirs);
    for (const text of theirs) assert.doesNotMatch(text, /[{}_]|undefined|\d\.\d.*Messung/);
  }
});

test("an unknown population and an unknown dimension are answered, not thrown", () => {
  assert.equal(checks.knows("women"), true);
  for (const key of ["girl_2", "boy_18", "child_", "woman", "", "constructor_3"]) {
    assert.equal(checks.knows(key), false, key);
  }
  const hands = checks.hands([{ side: "left", dimension: "elbow", mm: 30 }]);
  assert.deepEqual(checks.checkHands("women", hands), []);
});

test("typed lengths are understood or refused alike", () => {
  assert.ok(lengths.length > 6000);
  for (const [text, unit, understood] of lengths) {
    const { least, most, ...ours } = checks.parseLength(text, unit);
    assert.deepEqual(ours, understood, `"${text}" in ${unit}`);
    if (ours.code) assert.deepEqual([least, most], [1, 3000], "the bounds a refusal quotes");
  }
});
