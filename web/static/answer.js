// What the page says to a value: kept, or odd and why, with what can be done about it.

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

export function answerOf({ words, kept, readings, flags, repair, again, keep, withdraw }) {
  const parts = [];
  if (kept) {
    const name = words.dimension[kept.dimension]?.name ?? "";
    parts.push(element("p", "good", `✓ ${words.measure.kept} ${name} ${kept.value} ${words.unit[kept.unit]}`));
  }
  for (const flag of readings.length || kept ? flags : []) {
    const box = element("div", "flag");
    box.append(element("p", "", `⚠ ${flag.sentence}`));
    const row = element("div", "row");
    for (const one of flag.repairs) row.append(button(one.label, () => repair(one)));
    row.append(button(words.measure.again, again));
    box.append(row);
    const form = element("form", "row");
    const reason = element("input", "grow");
    reason.placeholder = words.measure.reason_hint;
    reason.setAttribute("aria-label", words.performer.reason);
    reason.maxLength = 300;
    reason.required = true;
    form.append(reason, element("button", "", words.measure.keep_it));
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      keep(flag, reason.value);
    });
    box.append(form);
    parts.push(box);
  }
  const last = readings[readings.length - 1];
  if (last) {
    const line = element("div", "row taken");
    line.append(element("span", "quiet", `${words.measure.taken} ${readings.map((r) => `${r.typed} ${words.unit[r.unit]}`).join(", ")}`));
    line.append(button(words.measure.undo, () => withdraw(last)));
    parts.push(line);
  }
  return parts;
}
