// The roster without signal: everybody this device has seen, to be measured on.
import { people, productions, waitingFacts } from "./device.js";
import { onQueueChange } from "./queue.js";

const place = document.querySelector("#known");
const find = document.querySelector("#find");
const words = JSON.parse(document.querySelector("#roster-words").textContent);
/** How much waited when the list was drawn. */
let drawn;

function element(name, className, text) {
  const made = document.createElement(name);
  if (className) made.className = className;
  if (text) made.textContent = text;
  return made;
}

function card(person, waiting) {
  const here = waiting.filter((entry) => entry.fact.performer === person.id);
  // A reading that waits here is the new one that was asked for.
  const isMeasured = here.some(({ fact }) => fact.fact === "reading" && !fact.is_repair);
  const again = isMeasured ? null : person.state?.measure_again;
  const step = again?.helps_most;
  const link = element("a", "card");
  link.href = `/performers/${person.id}/measure${step ? `?side=${step.side}&step=${step.dimension}` : ""}`;
  link.append(element("strong", "", `${person.code} ${person.name ?? ""}`));
  if (person.call) link.append(element("span", "quiet", `${words.offline.call}: ${person.call}`));
  if (again) {
    const what = step ? `: ${words.side[step.side]}, ${words.dimension[step.dimension]}` : "";
    link.append(element("span", "again", `↻ ${words.offline.measure_again}${what}`));
  }
  const taken = person.state?.readings.length ?? 0;
  const waits = here.length ? ` · ◷ ${here.length} ${words.offline.waiting}` : "";
  link.append(element("span", "quiet", `${words.offline.measured} ${taken}${waits}`));
  const item = element("li");
  item.append(link);
  return item;
}

async function show() {
  const waiting = await waitingFacts();
  drawn = waiting.length;
  const known = new Map((await people()).map((person) => [person.id, person]));
  const parts = [];
  for (const production of await productions()) {
    const list = element("ul", "cards");
    const roster = production.roster.map((id) => known.get(id)).filter(Boolean);
    list.append(...roster.map((person) => card(person, waiting)));
    parts.push(element("h2", "", production.name), list);
  }
  if (!parts.length) parts.push(element("p", "note", words.offline.nothing));
  place.replaceChildren(...parts);
  filter();
}

function filter() {
  const wanted = find.value.trim().toLowerCase();
  for (const item of place.querySelectorAll("li")) {
    item.hidden = !item.textContent.toLowerCase().includes(wanted);
  }
}

find.addEventListener("input", filter);
// Every try to send says so: a card must not change under a finger for nothing.
onQueueChange(({ waiting }) => { if (waiting.length !== drawn) show(); });
await show();
