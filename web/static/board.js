// The roster board: finds a performer, keeps the figures fresh, and gives this device what it needs
// to measure without signal.
import { rememberProduction } from "./device.js";

const find = document.querySelector("#find");
const roster = document.querySelector("#roster");
const production = roster?.dataset.production;
const POLL_MS = 5000;
const QUIET_MS = 400;

find?.addEventListener("input", () => {
  const wanted = find.value.trim().toLowerCase();
  for (const row of roster.tBodies[0].rows) {
    row.hidden = !row.textContent.toLowerCase().includes(wanted);
  }
});

const read = async (path) => {
  const answer = await fetch(path);
  if (!answer.ok) throw new Error(String(answer.status));
  return answer.json();
};

/** Replaces the cells that may have changed; the page's own HTML is the one source of their look. */
async function refresh() {
  const answer = await fetch(location.pathname, { headers: { accept: "text/html" } });
  if (!answer.ok || answer.redirected) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const selector of ["#figures", "#call", "[data-cell]"]) {
    if (selector.startsWith("#")) {
      document.querySelector(selector).replaceWith(fresh.querySelector(selector));
      continue;
    }
    for (const row of roster.tBodies[0].rows) {
      const same = fresh.querySelector(`tr[data-id="${row.dataset.id}"]`);
      if (!same) continue;
      const cells = same.querySelectorAll(selector);
      row.querySelectorAll(selector).forEach((cell, i) => cell.replaceWith(cells[i]));
    }
  }
}

async function pack() {
  const { people, ...about } = await read(`/api/productions/${production}/pack`);
  await rememberProduction(about, people);
}

let soon;
function changed() {
  clearTimeout(soon);
  soon = setTimeout(() => refresh().catch(() => {}), QUIET_MS);
}

function poll() {
  setInterval(() => { if (!document.hidden) changed(); }, POLL_MS);
}

if (production) {
  pack().catch(() => {});
  if ("EventSource" in window) {
    const events = new EventSource(`/api/productions/${production}/events`);
    events.addEventListener("changed", changed);
    events.addEventListener("error", () => {
      // The browser tries again by itself while it is connecting; closed is closed.
      if (events.readyState === EventSource.CLOSED) poll();
    });
  } else {
    poll();
  }
}
