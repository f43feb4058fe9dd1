// What a person does on each page, by the words and roles they see there.
import { readFile } from "node:fs/promises";
import assert from "node:assert/strict";
import { PATIENCE_MS } from "./browser.js";
import { expectOk } from "./expect.js";

/** Opens the one-time link and signs in; gives the address of the front page. */
export async function signIn(page, link) {
  expectOk(await page.goto(link));
  await page.locator("main form button").first().click();
  await page.waitForURL((url) => !url.pathname.startsWith("/sign-in"));
  const home = new URL("/", link).href;
  expectOk(await page.goto(home));
  return home;
}

/** Adds a production on the front page and opens it. */
export async function addProduction(page, name) {
  await page.goto(new URL("/", page.url()).href);
  await page.locator("form[action='/'] input[name=name]").fill(name);
  await page.locator("form[action='/'] button").click();
  await page.waitForURL(/\/productions\//);
  return page.url();
}

/** Adds a performer on the roster board; gives the address of their page. */
export async function addPerformer(page, { code, name, population = "women" }) {
  const form = page.locator("#add form");
  await form.locator("[name=code]").fill(code);
  await form.locator("[name=name]").fill(name);
  await form.locator("[name=population]").selectOption(population);
  await form.locator("button").click();
  const link = page.locator("#roster").getByRole("link", { name: code, exact: true });
  await link.waitFor();
  return new URL(await link.getAttribute("href"), page.url()).href;
}

/** Imports a roster into the production that is open: chooses the file, looks, stores. */
export async function importRoster(page, csv) {
  await page.locator("a[href$='/import']").click();
  await page
    .locator("input[type=file]")
    .setInputFiles({ name: "roster.csv", mimeType: "text/csv", buffer: Buffer.from(csv) });
  await page.locator("form[enctype='multipart/form-data'] button").click();
  const store = page.locator("form[action$='/import/store'] button.main");
  await store.waitFor();
  await store.click();
  await page.locator("#roster tbody tr").first().waitFor();
}

/** The measuring form of one performer. */
export const measuring = {
  /** Opens one step. */
  async open(page, performer, { side, dimension }) {
    expectOk(await page.goto(`${performer}/measure?side=${side}&step=${dimension}`));
    await page.locator(`#step[data-step=${dimension}][data-ready=yes]`).waitFor();
  },
  /** Types a value as a person with a keyboard would, and keeps it. */
  async enter(page, value) {
    await page.locator("#value").fill(value);
    const answered = page.waitForResponse((r) => new URL(r.url()).pathname === "/api/facts");
    await page.locator("#keep").tap();
    return (await answered).json();
  },
  /** Types what cannot be kept; gives what the input says to it. The phone itself may refuse it. */
  async refused(page, value) {
    await page.locator("#value").fill(value);
    await page.locator("#keep").tap();
    await page.locator("#error-place [role=alert]").waitFor();
    return measuring.error(page);
  },
  /** What the step says about the last value. */
  async answer(page) {
    return (await page.locator("#answer").innerText()).trim();
  },
  /** What the server holds of the performer. */
  async state(page, performer) {
    const id = performer.split("/").pop();
    const answer = await page.context().request.get(new URL(`/api/performers/${id}`, performer).href);
    expectOk(answer);
    return answer.json();
  },
  /** The message at the input, or nothing. */
  async error(page) {
    const error = page.locator("#error-place [role=alert]");
    return (await error.count()) ? (await error.innerText()).trim() : "";
  },
};

/** Asks again and again until the answer is right; `what` says what was waited for. */
export async function until(ask, isRight, what, patience = PATIENCE_MS) {
  let last;
  for (const end = Date.now() + patience; Date.now() < end;) {
    last = await ask();
    if (isRight(last)) return last;
    await new Promise((done) => setTimeout(done, 100));
  }
  assert.fail(`${what}: not so after ${patience / 1000} s, but ${JSON.stringify(last)}`);
}

/** What waits on this device. */
export const onDevice = {
  facts: (page) => page.evaluate(async () => {
    const { waitingFacts } = await import("/static/device.js");
    return (await waitingFacts()).map((entry) => entry.fact);
  }),
  /** Waits until so many facts wait. */
  holds: (page, count) => until(() => onDevice.facts(page), (facts) => facts.length === count, `${count} facts wait`),
};

/** Drafts the first performers of a production as a batch and lays it on cloth, as scripts do. */
export async function draftAndLay(page, production, count = 2) {
  const api = page.context().request;
  const at = (path) => new URL(path, production).href;
  const json = async (answer) => {
    expectOk(answer);
    return answer.json();
  };
  const { form_token: token } = await json(await api.get(at("/api/session")));
  const post = async (path, data) => json(await api.post(at(path), { data, headers: { "x-form-token": token } }));
  const ended = async (path) => {
    const ask = async () => (await json(await api.get(at(path)))).state;
    const state = await until(ask, (one) => one !== "running", `${path} ends`);
    assert.equal(state, "done", path);
  };
  const home = new URL(production).pathname.split("/").pop();
  const { rows } = await json(await api.get(at(`/api/productions/${home}/board`)));
  const performers = rows.slice(0, count).map((row) => row.id);
  const batch = await post(`/api/productions/${home}/batches`, { paper: "a4", performers });
  await ended(`/api/batches/${batch.id}`);
  const order = { width_mm: 1400, gap_mm: 3, is_one_way: false, spare_pairs: 1, seconds: 1 };
  const lay = await post(`/batches/${batch.id}/lay`, order);
  await ended(`/api/lays/${lay.id}`);
}

/** Draft page of one hand. */
export const drafting = {
  async open(page, performer, side) {
    expectOk(await page.goto(`${performer}/draft/${side}`));
    await page.locator("svg").first().waitFor();
  },
  /** Downloads the first PDF offered; gives its bytes. */
  async download(page) {
    const arriving = page.waitForEvent("download");
    await page.getByRole("link", { name: /^PDF/ }).first().click();
    const download = await arriving;
    return { name: download.suggestedFilename(), bytes: await readFile(await download.path()) };
  },
};
