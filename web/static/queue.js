// Sends what waits, in order, in batches, and tries again later where it must.
import { note, noted, settle, waitingFacts } from "./device.js";
import { sendFacts } from "./api.js";

const BATCH = 50;
const FIRST_WAIT_MS = 1000;
const LONGEST_WAIT_MS = 60_000;

const changed = new EventTarget();
let wait = FIRST_WAIT_MS;
let timer;
let running;
/** Whether somebody asked since the run looked at what waits: it may not have seen theirs. */
let isAsked = false;

/** Tells `listener` after every change of what waits: { waiting, status, states }. */
export function onQueueChange(listener) {
  changed.addEventListener("change", (event) => listener(event.detail));
}

/** Says that the queue has changed. */
export async function announce(status, states = []) {
  const waiting = await waitingFacts();
  changed.dispatchEvent(new CustomEvent("change", { detail: { waiting, status, states } }));
}

/**
 * Sends everything that waits. Several calls at once share one run; other tabs wait their turn.
 * Gives { status, states, refusals }: `sent`, `offline`, `sign-in` or `other-account`.
 */
export function sync() {
  isAsked = true;
  running ??= exclusive(run);
  return running;
}

function exclusive(work) {
  return navigator.locks ? navigator.locks.request("handcall-send", work) : work();
}

async function run() {
  clearTimeout(timer);
  try {
    return await sendAll();
  } finally {
    running = undefined;
  }
}

async function sendAll() {
  const states = new Map();
  const refusals = [];
  let size = BATCH;
  const end = async (status) => {
    if (status === "offline") later();
    else wait = FIRST_WAIT_MS;
    await announce(status, [...states.values()]);
    return { status, states: [...states.values()], refusals };
  };
  for (;;) {
    isAsked = false;
    const account = await noted("account");
    const waiting = (await waitingFacts()).filter((entry) => entry.account === account);
    if (!waiting.length) {
      const result = await end((await waitingFacts()).length ? "other-account" : "sent");
      if (isAsked) continue;
      return result;
    }
    const batch = waiting.slice(0, size);
    let answer;
    try {
      answer = await sendFacts(batch.map((entry) => entry.fact));
    } catch {
      return end("offline");
    }
    const { status, body } = answer;
    if (status === 401) return end("sign-in");
    if (status >= 500 || status === 429 || status === 0) return end("offline");
    if (!Array.isArray(body.results) || body.results.length !== batch.length) {
      // Refused as a whole: find the one that does it by sending fewer.
      if (status === 403) return end("sign-in");
      if (batch.length > 1) {
        size = Math.ceil(batch.length / 2);
        continue;
      }
      const error = { code: body.code ?? String(status), message: body.message ?? "" };
      refusals.push({ entry: batch[0], error });
      await settle([], [{ entry: batch[0], error }], []);
      continue;
    }
    const refused = [];
    const sent = [];
    body.results.forEach((result, i) => {
      if (result.state === "kept") sent.push(batch[i]);
      else refused.push({ entry: batch[i], error: result.error });
    });
    const learnt = body.performers ?? [];
    await settle(sent, refused, learnt);
    refusals.push(...refused);
    for (const state of learnt) states.set(state.performer, state);
  }
}

function later() {
  // Half to whole of the wait, so that many phones do not return in the same moment.
  timer = setTimeout(sync, wait * (0.5 + Math.random() / 2));
  wait = Math.min(wait * 2, LONGEST_WAIT_MS);
}

/** Remembers who is signed in on this page, so that nobody sends another's readings as theirs. */
export const signedInAs = (account) => note("account", account);

addEventListener("online", () => { wait = FIRST_WAIT_MS; sync(); });
document.addEventListener("visibilitychange", () => { if (!document.hidden) sync(); });
