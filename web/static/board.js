// The roster board: finds a performer, keeps the figures fresh, and gives this device what it needs
// to measure without signal.
import { rememberProduction } from "./device.js";

const find = document.querySelector("#find");
const called = document.querySelector("#called");
const roster = document.querySelector("#roster");
const production = roster?.dataset.production;
const POLL_MS = 5000;
const QUIET_MS = 400;

/** Whether a row is of the call that is chosen; "-" are those without one. */
function isCalled(row) {
  const wanted = called?.value.toLowerCase() ?? "";
  const call = row.dataset.call.toLowerCase();
  return !wanted || (wanted === "-" ? !call : call === wanted);
}

/** Shows the rows that are looked for, and next the first who is due among those called. */
function filter() {
  const wanted = find.value.trim().toLowerCase();
  const rows = [...roster.tBodies[0].rows];
  for (const row of rows) {
    row.hidden = !isCalled(row) || !row.textContent.toLowerCase().includes(wanted);
  }
  const link = document.querySelector("#next a");
  if (!link) return;
  const next = rows.find((row) => isCalled(row) && row.querySelector("[data-due]"));
  link.hidden = !next;
  if (!next) return;
  link.href = next.querySelector("[data-due]").dataset.due;
  link.querySelector("[data-code]").textContent = next.querySelector("th a").textContent;
}

find?.addEventListener("input", filter);
called?.addEventListener("change", filter);

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
  for (const selector of ["#figures", "#next", "[data-cell]"]) {
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
  filter();
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
