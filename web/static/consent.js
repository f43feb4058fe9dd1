// Asks for a guardian's consent on a phone without signal; with a connection the server's own page
// does. What is answered waits like any other fact, ahead of the readings.
import { uuid7 } from "./api.js";

function element(name, attributes, ...inside) {
  const made = Object.assign(document.createElement(name), attributes);
  made.append(...inside);
  return made;
}

/** Shows the words in the place of the step; gives the fact once somebody has agreed. */
export function askConsent(place, { words, text, performer }) {
  const shown = text ?? words.text;
  const choice = (key) => element(
    "label", { className: "choice" },
    element("input", { type: "radio", name: "manner", value: key, required: true }), words[key],
  );
  const form = element(
    "form", { className: "stack panel" },
    element("h2", { textContent: words.title }),
    element("p", { textContent: words.needed }),
    element("p", { className: "note prose", textContent: shown }),
    element("fieldset", {}, element("legend", { textContent: words.how }), choice("signed"), choice("spoken")),
    element("button", { className: "main", textContent: words.record }),
    element("p", { className: "quiet", textContent: words.care }),
  );
  place.hidden = true;
  place.before(form);
  return new Promise((done) => {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const manner = new FormData(form).get("manner");
      form.remove();
      place.hidden = false;
      done({ fact: "consent", id: uuid7(), performer, is_given: true, manner, words: shown });
    });
  });
}
