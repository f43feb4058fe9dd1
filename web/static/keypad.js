// Large keys under the thumb. A real keyboard works just as well.

const DIGITS = ["7", "8", "9", "⌫", "4", "5", "6", ".", "1", "2", "3", "0"];
const FRACTIONS = ["1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8", "/16"];

export function buildKeypad(input, unit, words) {
  const pad = document.querySelector("#keypad");
  const keys = unit === "in" ? [...FRACTIONS, ...DIGITS] : DIGITS;
  pad.replaceChildren(...keys.map((key) => button(key, input, words)));
  pad.hidden = false;
  // With keys of our own the system's keyboard would only cover them.
  if (matchMedia("(pointer: coarse)").matches) input.inputMode = "none";
}

function button(key, input, words) {
  const element = document.createElement("button");
  element.type = "button";
  element.textContent = key;
  if (key === "⌫") element.setAttribute("aria-label", words.measure.delete);
  if (key === ".") element.textContent = words.measure.point;
  element.addEventListener("click", () => press(key === "." ? words.measure.point : key, input));
  return element;
}

function press(key, input) {
  const text = input.value;
  if (key === "⌫") {
    // A fraction goes as it came, in one piece.
    input.value = text.replace(/(\s?\d+\/\d+|.)$/u, "");
  } else if (key === "/16") {
    input.value = `${text}/16`;
  } else if (key.includes("/")) {
    input.value = text ? `${text.replace(/\s?\d+\/\d+$/u, "")} ${key}` : key;
  } else {
    input.value = text + key;
  }
  input.dispatchEvent(new Event("input"));
}
