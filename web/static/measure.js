// The measuring form, one dimension a step. Without this script the same form works by posts.
//
// A value goes to this device first, then to the server: what the page shows is what the server
// said last with everything that still waits here.
import { forgetRefused, keepFacts, noted, person } from "./device.js";
import { uuid7 } from "./api.js";
import { answerOf, skipReasons } from "./answer.js";
import { checksOf, populationOf } from "./checking.js";
import { buildKeypad } from "./keypad.js";
import { remember, withFacts, withWaiting } from "./person.js";
import { onQueueChange, sync } from "./queue.js";
import { orderOf } from "./order.js";
import { fill, number, population, refusal, sentence } from "./model/words.js";

/** Longest wait for the server before the step goes on without it. */
const PATIENCE_MS = 1500;

/** What a screen reader reads with the value: where the tape goes, and what is expected. */
const DESCRIBED = "what range";

const json = (id) => JSON.parse(document.getElementById(id).textContent);
const at = (selector) => document.querySelector(selector);

const words = json("words");
const data = json("data");
const steps = data.steps;
const place = at("#step");
const entry = at("#entry");
const value = at("#value");
const answer = at("#answer");
const errorPlace = at("#error-place");

const id = data.performer?.id ?? location.pathname.split("/")[2];
const performer = data.performer ?? (await person(id));
const account = document.body.dataset.account || (await noted("account"));
let known = data.state ?? performer?.state;
let state = known;
let side = place.dataset.side;
let index = 0;
/** The value the page says it has kept. */
let shown;
const visited = [];
const asked = new URLSearchParams(location.search);

const unit = () => entry.elements.unit.value;
const stepKey = () => steps[index].key;
const isHere = (thing) => thing.side === side && thing.dimension === stepKey();
const readingsHere = () => state.readings.filter(isHere);
const flagKeys = () => new Set(state.flags.map((flag) => flag.key));
const concernsStep = (flag) => !flag.kept
  && (!flag.dimension || flag.dimension === stepKey()) && (!flag.side || flag.side === side);

function show() {
  const step = steps[index];
  const own = words.dimension[step.key];
  place.dataset.side = side;
  place.dataset.step = step.key;
  at("#number").textContent = `${index + 1}/${steps.length}`;
  at("#dimension").textContent = own.name;
  at("#what").textContent = own.instruction;
  at("#tool").textContent = words.instrument[step.instrument];
  at("#side").textContent = words.side[side];
  at("#flip").classList.toggle("mirrored", side === "left");
  for (const tape of document.querySelectorAll(".tape")) {
    tape.classList.toggle("on", tape.dataset.for === step.key);
  }
  // Finger joints are small on a phone: come nearer.
  const isNear = /_(knuckle|tip)_girth$/.test(step.key);
  at("#hand").setAttribute("viewBox", isNear ? "-62 -188 150 128" : "-62 -190 150 222");
  const here = readingsHere();
  value.value = "";
  value.placeholder = here.length ? here[here.length - 1].typed : "";
  clearError();
  const isFirst = !visited.length && index === 0;
  at("#back").classList.toggle("off", isFirst);
  at("#back").ariaDisabled = String(isFirst);
  // Without an address a link takes no focus.
  if (isFirst) at("#back").removeAttribute("href");
  else at("#back").href = `/performers/${id}`;
  at("#next").textContent = nextStep() === undefined ? words.measure.done : words.measure.next;
  history.replaceState(null, "", `?side=${side}&step=${step.key}`);
  at("#compared").textContent = population(words, populationOf(performer, state));
  at("#enough").hidden = !state.enough?.includes(side);
  showRange();
  renderAnswer();
}

/** Whoever pressed a button that is gone now goes on at the value. */
function keepFocus() {
  if (document.activeElement === document.body) value.focus({ preventScroll: true });
}

async function showRange() {
  const expected = await checksOf().expected(performer, state, side, stepKey());
  const per = { mm: 1, cm: 10, in: 25.4 }[unit()];
  const step = unit() === "mm" ? 1 : 10;
  const text = (mm) => number(words, Math.round((mm / per) * step) / step);
  at("#range").textContent = state.readings.length && expected
    ? fill(words, words.measure.expected, { low: text(expected[0]), high: text(expected[1]), unit: words.unit[unit()] })
    : "";
}

function renderAnswer(kept, late = []) {
  shown = kept;
  answer.replaceChildren(...answerOf({
    words, kept, late, readings: readingsHere(), flags: state.flags.filter(concernsStep),
    repair: (repair) => keepAndShow(repairFacts(repair)),
    again: () => value.focus(),
    repeat: () => go(steps.findIndex((step) => step.key === kept.dimension), kept.side),
    keep: (flag, reason) => keepAndShow([{ fact: "acceptance", id: uuid7(), performer: id, flag: flag.key, reason }]),
    look: (flag) => go(steps.findIndex((step) => step.key === flag.dimension), flag.side),
    withdraw: (reading) => keepAndShow([{ fact: "withdrawal", performer: id, reading: reading.id }]),
  }));
  keepFocus();
}

function repairFacts(repair) {
  return repair.values.flatMap(([repairSide, dimension, mm]) => [
    ...state.readings
      .filter((reading) => reading.side === repairSide && reading.dimension === dimension)
      .map((reading) => ({ fact: "withdrawal", performer: id, reading: reading.id, reason: sentence(words, repair.says) })),
    {
      fact: "reading", id: uuid7(), performer: id, side: repairSide, dimension,
      value: String(Math.round(mm * 10) / 10), unit: "mm", is_repair: true, taken_ms: Date.now(),
    },
  ]);
}

function clearError() {
  errorPlace.replaceChildren();
  value.removeAttribute("aria-invalid");
  value.setAttribute("aria-describedby", DESCRIBED);
}

function showError(message) {
  const line = document.createElement("p");
  line.className = "error";
  line.id = "value-error";
  line.setAttribute("role", "alert");
  line.textContent = `⚠ ${message}`;
  errorPlace.replaceChildren(line);
  value.setAttribute("aria-invalid", "true");
  value.setAttribute("aria-describedby", `value-error ${DESCRIBED}`);
}

const patience = () => new Promise((done) => setTimeout(done, PATIENCE_MS, { status: "slow", states: [], refusals: [] }));

/** Keeps facts on this device, sends them if it can, and shows what is known then. */
async function keepFactsHere(facts) {
  await keepFacts(account, facts);
  state = withFacts(state, facts);
  const result = await Promise.race([sync(), patience()]);
  await learn(result.states);
  const ids = facts.map((fact) => fact.id);
  const refusal = result.refusals.find(({ entry: one }) => ids.includes(one.fact.id) && one.fact.id);
  if (refusal) await forgetRefused(refusal.entry.number);
  return refusal;
}

async function learn(states) {
  const own = states.find((one) => one.performer === id);
  if (own) known = own;
  state = await checksOf().checked(performer, await withWaiting(known));
}

async function keepAndShow(facts) {
  const refusal = await keepFactsHere(facts);
  show();
  if (refusal) showError(refusal.error.message);
}

async function enter() {
  const typed = value.value.trim();
  const read = await checksOf().parse(typed, unit());
  if (read.code) {
    showError(refusal(words, read));
    value.select();
    return;
  }
  const fact = {
    fact: "reading", id: uuid7(), performer: id, side, dimension: stepKey(), value: typed,
    unit: unit(), taken_ms: Date.now(), mm: read.mm,
  };
  // A value may speak against one that was plausible when it was typed.
  const before = flagKeys();
  const refused = await keepFactsHere([fact]);
  if (refused) {
    showError(refused.error.message);
    value.select();
    return;
  }
  const kept = { ...fact, waits: !known.readings.some((reading) => reading.id === fact.id) };
  const next = nextStep();
  if (state.flags.some(concernsStep) || next === undefined) {
    show();
  } else {
    go(next);
  }
  renderAnswer(kept, foundElsewhere(before));
}

/** Flags raised since then about readings of other steps. */
function foundElsewhere(before) {
  return state.flags.filter((flag) => !flag.kept && !before.has(flag.key) && flag.side && flag.dimension && !concernsStep(flag));
}

/** Index of the step to come, or nothing when the hand is done. */
function nextStep() {
  return orderOf().next(steps, state, side, index);
}

function go(target, targetSide = side) {
  if (target === undefined) {
    location.href = `/performers/${id}`;
    return;
  }
  visited.push(index);
  index = target;
  side = targetSide;
  show();
}

async function skip(reason) {
  await keepFactsHere([{ fact: "skip", id: uuid7(), performer: id, side, dimension: stepKey(), reason }]);
  go(nextStep());
}

function listen() {
  entry.addEventListener("submit", (event) => {
    event.preventDefault();
    if (event.submitter?.id === "skip") answer.replaceChildren(skipReasons(words, skip));
    else enter();
  });
  at("#back").addEventListener("click", (event) => {
    event.preventDefault();
    if (visited.length) index = visited.pop();
    else if (index > 0) index -= 1;
    show();
  });
  at("#next").addEventListener("click", (event) => { event.preventDefault(); go(nextStep()); });
  at("#reference").addEventListener("click", async (event) => {
    event.preventDefault();
    const { chooser } = await import("./reference.js");
    answer.replaceChildren(chooser(words, populationOf(performer, state), (chosen) => (
      keepAndShow([{ fact: "reference", id: uuid7(), performer: id, population: chosen }])
    )));
    answer.querySelector("select").focus();
  });
  at("#swap").addEventListener("click", (event) => {
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
  onQueueChange(async ({ states }) => {
    const before = flagKeys();
    await learn(states);
    showRange();
    // On a slow line the server may find a slip when the step was left already.
    const late = foundElsewhere(before);
    const isNew = (flag) => !before.has(flag.key) && concernsStep(flag);
    if (late.length || state.flags.some(isNew)) renderAnswer(shown, late);
  });
}

if (state) {
  if (data.performer) await remember({ ...data.performer, name: performer.name ?? "" }, known);
  else at("#code").textContent = `${performer.code} ${performer.name ?? ""}`;
  state = await checksOf().checked(performer, await withWaiting(known));
  side = asked.get("side") === "left" ? "left" : side;
  const wanted = steps.findIndex((step) => step.key === asked.get("step"));
  index = wanted >= 0 ? wanted : orderOf().first(steps, state, side) ?? 0;
  orderOf().offer(at("#order"), words, () => show());
  if (state.needs_consent) {
    const { askConsent } = await import("/static/consent.js");
    await keepFactsHere([await askConsent(place, { ...data.consent, performer: id })]);
  }
  buildKeypad(value, unit(), words);
  listen();
  const hadAnswer = answer.textContent.trim();
  const before = answer.innerHTML;
  show();
  if (hadAnswer && readingsHere().length && !state.flags.some(concernsStep)) answer.innerHTML = before;
  place.dataset.ready = "yes";
} else {
  showError(words.measure.unknown);
}
