// The roster without signal: everybody this device has seen, to be measured on.
import { people, productions, waitingFacts } from "./device.js";

const place = document.querySelector("#known");
const find = document.querySelector("#find");
const words = JSON.parse(document.querySelector("#roster-words").textContent);

function element(name, className, text) {
  const made = document.createElement(name);
  if (className) made.className = className;
  if (text) made.textContent = text;
  return made;
}

const known = new Map((await people()).map((person) => [person.id, person]));
const waiting = await waitingFacts();

for (const production of await productions()) {
  const list = element("ul", "cards");
  for (const id of production.roster) {
    const person = known.get(id);
    if (!person) continue;
    const link = element("a", "card");
    const here = waiting.filter((entry) => entry.fact.performer === id);
    // A reading that waits here is the new one that was asked for.
    const isMeasured = here.some(({ fact }) => fact.fact === "reading" && !fact.is_repair);
    const again = isMeasured ? null : person.state?.measure_again;
    const step = again?.helps_most;
    link.href = `/performers/${id}/measure${step ? `?side=${step.side}&step=${step.dimension}` : ""}`;
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
    list.append(item);
  }
  place.append(element("h2", "", production.name), list);
}
if (!place.children.length) place.append(element("p", "note", words.offline.nothing));

find.addEventListener("input", () => {
  const wanted = find.value.trim().toLowerCase();
  for (const item of place.querySelectorAll("li")) {
    item.hidden = !item.textContent.toLowerCase().includes(wanted);
  }
});
