// The measuring form, one dimension a step. Without this script the same form works by posts.
import { sendFacts, uuid7 } from "./api.js";
import { buildKeypad } from "./keypad.js";
import { answerOf } from "./answer.js";

const json = (id) => JSON.parse(document.getElementById(id).textContent);
const data = json("data");
const words = json("words");
const steps = data.steps;
const performer = data.performer.id;
const place = document.querySelector("#step");
const entry = document.querySelector("#entry");
const value = document.querySelector("#value");
const answer = document.querySelector("#answer");
const errorPlace = document.querySelector("#error-place");

let state = data.state;
let side = place.dataset.side;
let index = steps.findIndex((step) => step.key === place.dataset.step);

const unit = () => entry.elements.unit.value;
const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, key) => values[key]);

function readingsHere() {
  const key = steps[index].key;
  return state.readings.filter((r) => r.side === side && r.dimension === key);
}

function show() {
  const step = steps[index];
  const own = words.dimension[step.key] ?? {};
  place.dataset.side = side;
  place.dataset.step = step.key;
  document.querySelector("#number").textContent = `${index + 1}/${steps.length}`;
  document.querySelector("#dimension").textContent = own.name ?? step.name;
  document.querySelector("#what").textContent = own.instruction ?? step.instruction;
  document.querySelector("#tool").textContent = words.instrument[step.instrument];
  document.querySelector("#side").textContent = words.side[side];
  document.querySelector("#flip").classList.toggle("mirrored", side === "left");
  for (const tape of document.querySelectorAll(".tape")) {
    tape.classList.toggle("on", tape.dataset.for === step.key);
  }
  // Finger joints are small on a phone: come nearer.
  const isNear = /_(knuckle|tip)_girth$/.test(step.key);
  document.querySelector("#hand").setAttribute("viewBox", isNear ? "-62 -188 150 128" : "-62 -190 150 222");
  const here = readingsHere();
  value.value = "";
  value.placeholder = here.length ? here[here.length - 1].typed : "";
  showRange();
  errorPlace.replaceChildren();
  value.removeAttribute("aria-invalid");
  value.removeAttribute("aria-describedby");
  const back = document.querySelector("#back");
  back.classList.toggle("off", index === 0);
  document.querySelector("#next").textContent =
    index + 1 < steps.length ? words.measure.next : words.measure.done;
  history.replaceState(null, "", `?side=${side}&step=${step.key}`);
  renderAnswer();
}

function showRange() {
  const key = steps[index].key;
  const expected = state.hands.find((h) => h.side === side && h.dimension === key);
  const begun = state.readings.length > 0;
  const per = { mm: 1, cm: 10, in: 25.4 }[unit()];
  const digits = unit() === "mm" ? 0 : 1;
  const text = (mm) => (mm / per).toLocaleString(undefined, { maximumFractionDigits: digits });
  document.querySelector("#range").textContent = begun && expected
    ? fill(words.measure.expected, { low: text(expected.expected_mm[0]), high: text(expected.expected_mm[1]), unit: words.unit[unit()] })
    : "";
}

function renderAnswer(kept) {
  const key = steps[index].key;
  answer.replaceChildren(...answerOf({
    words, kept, readings: readingsHere(),
    flags: state.flags.filter((flag) => !flag.kept
      && (!flag.dimension || flag.dimension === key) && (!flag.side || flag.side === side)),
    repair: (repair) => send(repairFacts(repair), true),
    again: () => value.focus(),
    keep: (flag, reason) => send([{ fact: "acceptance", performer, flag: flag.key, reason }], true),
    withdraw: (reading) => send([{ fact: "withdrawal", performer, reading: reading.id }], true),
  }));
}

function repairFacts(repair) {
  const facts = [];
  for (const [repairSide, dimension, mm] of repair.values) {
    for (const reading of state.readings) {
      if (reading.side === repairSide && reading.dimension === dimension) {
        facts.push({ fact: "withdrawal", performer, reading: reading.id, reason: repair.label });
      }
    }
    facts.push({
      fact: "reading", id: uuid7(), performer, side: repairSide, dimension,
      value: String(Math.round(mm * 10) / 10), unit: "mm", is_repair: true, taken_ms: Date.now(),
    });
  }
  return facts;
}

function showError(message) {
  const line = document.createElement("p");
  line.className = "error";
  line.id = "value-error";
  line.setAttribute("role", "alert");
  line.textContent = `⚠ ${message}`;
  errorPlace.replaceChildren(line);
  value.setAttribute("aria-invalid", "true");
  value.setAttribute("aria-describedby", "value-error");
}

/** Sends facts and shows what came of them. True when all were kept. */
async function send(facts, stays) {
  entry.classList.add("busy");
  try {
    const { status, body } = await sendFacts(facts);
    const own = body.performers?.find((p) => p.performer === performer);
    if (own) state = own;
    const refused = body.results?.find((result) => result.state === "refused");
    if (refused || status >= 400) {
      showError(refused?.error?.message ?? body.message ?? words.measure.unsent);
      return false;
    }
    if (stays) show();
    return true;
  } catch {
    showError(words.measure.unsent);
    return false;
  } finally {
    entry.classList.remove("busy");
  }
}

async function enter() {
  const step = steps[index];
  const typed = value.value.trim();
  const fact = {
    fact: "reading", id: entry.elements.id.value, performer, side, dimension: step.key,
    value: typed, unit: unit(), taken_ms: Date.now(),
  };
  if (!await send([fact], false)) {
    value.select();
    return;
  }
  entry.elements.id.value = uuid7();
  errorPlace.replaceChildren();
  value.removeAttribute("aria-invalid");
  value.value = "";
  const key = step.key;
  const isOdd = state.flags.some((flag) => !flag.kept
    && (!flag.dimension || flag.dimension === key) && (!flag.side || flag.side === side));
  if (isOdd || index + 1 >= steps.length) {
    show();
    renderAnswer(fact);
  } else {
    index += 1;
    show();
    renderAnswer(fact);
  }
}

function go(by) {
  const target = index + by;
  if (target >= steps.length) {
    location.href = `/performers/${performer}`;
  } else if (target >= 0) {
    index = target;
    show();
  }
}

entry.addEventListener("submit", (event) => {
  event.preventDefault();
  if (event.submitter?.id === "skip") {
    send([{ fact: "skip", performer, side, dimension: steps[index].key }], false)
      .then((isKept) => { if (isKept) go(1); });
  } else {
    enter();
  }
});
document.querySelector("#back").addEventListener("click", (event) => { event.preventDefault(); go(-1); });
document.querySelector("#next").addEventListener("click", (event) => { event.preventDefault(); go(1); });
document.querySelector("#swap").addEventListener("click", (event) => {
  event.preventDefault();
  side = side === "left" ? "right" : "left";
  show();
});
for (const radio of entry.elements.unit) {
  radio.addEventListener("change", () => {
    document.cookie = `unit=${unit()};path=/;max-age=15552000;samesite=lax`;
    buildKeypad(value, unit(), words);
    showRange();
  });
}
buildKeypad(value, unit(), words);
showRange();
if (!answer.textContent.trim()) renderAnswer();
