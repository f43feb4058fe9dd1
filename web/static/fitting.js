// A fitting on the phone: what is answered goes to this device first and to the server when it can.
// Without this script the same form works by a post.
import { forgetRefused, keepFacts, noted, person, rememberPerson, waitingFacts } from "./device.js";
import { uuid7 } from "./api.js";
import { sync } from "./queue.js";

/** Longest wait for the server before the page goes on without it. */
const PATIENCE_MS = 1500;

const json = (id) => JSON.parse(document.getElementById(id).textContent);
const at = (selector) => document.querySelector(selector);
const words = json("words");
const data = json("data");
const form = at("#fitting");
const id = data.performer?.id ?? location.pathname.split("/")[2];
const known = await person(id);
const account = document.body.dataset.account || (await noted("account"));

function element(name, className, text) {
  const made = document.createElement(name);
  if (className) made.className = className;
  made.textContent = text;
  return made;
}

/** The page kept for work without signal knows nobody; the device does. */
function fillFromDevice() {
  const gloves = known?.gloves ?? [];
  at("#code").textContent = `${known?.code ?? ""} ${known?.name ?? ""}`;
  at("#leave").href = `/performers/${id}`;
  const side = new URLSearchParams(location.search).get("side");
  if (side) form.elements.side.value = side;
  at("#none").hidden = gloves.length > 0;
  form.elements.version.replaceChildren(...gloves.map((glove) => {
    const option = element("option", "", `${words.version} ${glove.number} · ${glove.fabric} · ${glove.date}`);
    option.value = glove.id;
    return option;
  }));
}

const zones = () => [...form.querySelectorAll("[data-zone]")].map((row) => row.dataset.zone);

/** What is said of a zone: a figure beside an answer takes its direction from it. */
function said(zone) {
  const answer = form.elements[`answer.${zone}`].value;
  const mm = form.elements[`mm.${zone}`].value.trim();
  if (!mm) return answer;
  if (/^[+\-−]/.test(mm)) return mm;
  return answer.endsWith("loose") ? `-${mm}` : mm;
}

function fact() {
  const answers = Object.fromEntries(zones().map((zone) => [zone, said(zone)]).filter(([, text]) => text));
  const signs = [...form.querySelectorAll("[name^='sign.']:checked")].map((box) => box.name.slice(5));
  return {
    fact: "fitting", id: uuid7(), performer: id, side: form.elements.side.value,
    version: form.elements.version.value, answers, signs,
    worn_minutes: form.elements.worn_minutes.value, note: form.elements.note.value, taken_ms: Date.now(),
  };
}

function showError(error) {
  const field = error.field ?? "";
  const row = form.querySelector(`[data-zone="${CSS.escape(field)}"]`);
  const zone = row ? `${row.querySelector("legend").textContent}: ` : "";
  const line = element("p", "error", `⚠ ${zone}${error.message}`);
  line.setAttribute("role", "alert");
  at("#error-place").replaceChildren(line);
  for (const input of form.querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
  const input = form.elements[`mm.${field}`] ?? (field === "worn_minutes" || field === "version" ? form.elements[field] : null);
  input?.setAttribute("aria-invalid", "true");
  (input ?? at("#error-place")).scrollIntoView({ block: "center" });
  input?.focus();
}

const patience = () => new Promise((done) => setTimeout(done, PATIENCE_MS, { status: "slow", refusals: [] }));

async function keep() {
  const made = fact();
  await keepFacts(account, [made]);
  const result = await Promise.race([sync(), patience()]);
  at("#error-place").replaceChildren();
  at("#answer").replaceChildren();
  const refusal = result.refusals.find(({ entry }) => entry.fact.id === made.id);
  if (refusal) {
    await forgetRefused(refusal.entry.number);
    showError(refusal.error);
    return;
  }
  const waits = (await waitingFacts()).some((entry) => entry.fact.id === made.id);
  const line = element("p", "good", waits ? `◷ ${words.waits} ` : `✓ ${words.kept} `);
  const link = element("a", "", words.next);
  link.href = `/performers/${id}/next/${made.side}`;
  line.append(link);
  at("#answer").replaceChildren(line);
  const { version, side } = { version: form.elements.version.value, side: form.elements.side.value };
  form.reset();
  form.elements.version.value = version;
  form.elements.side.value = side;
  caution();
  at("#answer").scrollIntoView({ block: "center" });
}

function caution() {
  at("#off").hidden = !form.querySelector("[name^='sign.']:checked");
}

if (data.performer) await rememberPerson({ ...known, ...data.performer, gloves: data.gloves });
else fillFromDevice();
form.addEventListener("submit", (event) => {
  event.preventDefault();
  keep();
});
form.addEventListener("change", caution);
const rest = at("#rest");
rest.hidden = false;
rest.addEventListener("click", () => {
  for (const zone of zones()) {
    const answers = form.elements[`answer.${zone}`];
    if (!said(zone)) answers.value = "good";
  }
});
caution();
form.dataset.ready = "yes";
