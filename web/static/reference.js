// With which published people somebody is compared: chosen from a list, with or without signal.
import { population } from "./model/words.js";

const AGES = Array.from({ length: 15 }, (_, i) => i + 3);
const REFERENCES = [
  "adults", "women", "men",
  ...["child", "girl", "boy"].flatMap((who) => AGES.map((age) => `${who}_${age}`)),
];

/** The list with its button; `choose` is told the key. */
export function chooser(words, current, choose) {
  const form = document.createElement("form");
  form.className = "row";
  const label = document.createElement("label");
  label.textContent = `${words.measure.compared} `;
  const list = document.createElement("select");
  list.append(...REFERENCES.map((key) => new Option(population(words, key), key, false, key === current)));
  label.append(list);
  const button = document.createElement("button");
  button.textContent = words.measure.compare;
  form.append(label, button);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    choose(list.value);
  });
  return form;
}
