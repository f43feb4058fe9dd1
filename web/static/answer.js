// What the page says to a value: kept, or odd and why, with what can be done about it.
import { sentence } from "./model/words.js";

function element(name, className, text) {
  const made = document.createElement(name);
  if (className) made.className = className;
  if (text) made.textContent = text;
  return made;
}

function button(text, action) {
  const made = element("button", "", text);
  made.type = "button";
  made.addEventListener("click", action);
  return made;
}

export function answerOf({ words, kept, late, readings, flags, look, repair, again, repeat, keep, withdraw }) {
  const parts = [];
  const shown = readings.length || kept ? flags : [];
  // A flag stays at its step, where the value stands among those taken.
  if (kept && !(shown.length && readings.some((reading) => reading.id === kept.id))) {
    const name = words.dimension[kept.dimension].name;
    const line = element("div", "row taken");
    line.append(element("p", "good", `✓ ${words.measure.kept} ${name} ${kept.value} ${words.unit[kept.unit]}`));
    if (!readings.some((reading) => reading.id === kept.id)) line.append(button(words.measure.repeat, repeat));
    parts.push(line);
    if (kept.waits) parts.push(element("p", "quiet", `◷ ${words.measure.kept_here}`));
  }
  for (const flag of shown) {
    parts.push(flagBox(words, flag, { repair, again, keep }));
  }
  for (const flag of late) parts.push(button(`⚠ ${words.dimension[flag.dimension].name}, ${words.on_side[flag.side]}`, () => look(flag)));
  const last = readings[readings.length - 1];
  if (last) {
    const line = element("div", "row taken");
    const taken = readings.map((r) => `${r.typed} ${words.unit[r.unit]}${r.waits ? " ◷" : ""}`).join(", ");
    line.append(element("span", "quiet", `${words.measure.taken} ${taken}`));
    line.append(button(words.measure.undo, () => withdraw(last)));
    parts.push(line);
  }
  return parts;
}

function flagBox(words, flag, { repair, again, keep }) {
  const box = element("div", "flag");
  box.append(element("p", "", `⚠ ${sentence(words, flag.says)}`));
  const row = element("div", "row");
  for (const one of flag.repairs) row.append(button(sentence(words, one.says), () => repair(one)));
  row.append(button(words.measure.again, again));
  box.append(row);
  const form = element("form", "row");
  const reason = element("input", "grow");
  reason.placeholder = words.measure.reason_hint;
  reason.setAttribute("aria-label", words.measure.reason);
  reason.maxLength = 300;
  reason.required = true;
  form.append(reason, element("button", "", words.measure.keep_it));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    keep(flag, reason.value);
  });
  box.append(form);
  return box;
}

/** The reasons a step may be skipped for, as buttons. */
export function skipReasons(words, skip) {
  const box = element("div", "row taken");
  box.append(element("p", "", words.measure.why_skip));
  for (const reason of words.measure.skip_reasons) box.append(button(reason, () => skip(reason)));
  queueMicrotask(() => box.querySelector("button")?.focus());
  return box;
}
