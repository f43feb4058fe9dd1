// A fitting on the phone without signal: kept there, sent when there is a server again, and the next
// draft changed as shown. Then the next performer's first glove in the same fabric starts from it.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems, expectOk } from "./expect.js";
import { addProduction, importRoster, onDevice, signIn } from "./pages.js";
import { startServer } from "./server.js";

// Invented hands near the published means of women (Greiner 1991).
const roster = [
  "code,fabric,hand_length,palm_length,hand_girth,wrist_girth,index_knuckle_girth",
  "TW90,Kelp,181,103,186,151,61",
  "TW92,Kelp,176,100,182,149,60",
].join("\n");

let server, browser, production;
const performers = {};

before(async () => {
  server = await startServer();
  browser = await openBrowser(phone);
  const { page } = browser;
  await signIn(page, server.signIn);
  production = await addProduction(page, "The Salt Stair");
  await importRoster(page, roster);
  for (const code of ["TW90", "TW92"]) {
    const link = page.locator("#roster").getByRole("link", { name: code, exact: true });
    performers[code] = new URL(await link.getAttribute("href"), page.url()).href;
  }
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

const row = (page, zone) => page.locator(`tr[data-zone=${zone}]`);
const cell = async (page, zone, n) => (await row(page, zone).locator("td").nth(n).innerText()).trim();

/** What the pieces of the draft page are drawn from: the forecast's glove girth at a zone. */
async function drafted(page, performer, zone) {
  expectOk(await page.goto(`${performer}/draft/right`));
  const line = page.locator("tr", { has: page.getByRole("rowheader", { name: zone, exact: true }) });
  return Number((await line.locator("td").nth(1).innerText()).trim());
}

let girthBefore;

test("a glove is kept as a version to be sewn", async () => {
  const { page } = browser;
  girthBefore = await drafted(page, performers.TW90, "wrist");
  expectOk(await page.goto(`${performers.TW90}/next/right`));
  await page.locator("button[value=keep]").tap();
  await page.locator("p.good").waitFor();
  expectOk(await page.goto(`${performers.TW90}/fitting?side=right`));
  await page.locator("#fitting[data-ready=yes]").waitFor();
  assert.match(await page.locator("#version option").first().innerText(), /Version 1 · Kelp/);
});

test("the fitting is recorded with one thumb while there is no server", async () => {
  const { page } = browser;
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
  await page.waitForFunction(async () => {
    for (const name of await caches.keys()) {
      if (await (await caches.open(name)).match("/shell/fitting")) return true;
    }
    return false;
  });
  await server.kill();
  await page.goto(`${performers.TW90}/fitting?side=right`);
  await page.locator("#fitting[data-ready=yes]").waitFor();
  assert.match(await page.locator("#version option").first().innerText(), /Version 1 · Kelp/);
  const choose = (zone, answer) =>
    page.locator(`[data-zone=${zone}] label`, { has: page.locator(`[value=${answer}]`) }).tap();
  await choose("wrist", "too_loose");
  await page.locator("[name='mm.wrist']").fill("6");
  await choose("index_length", "too_tight");
  await page.locator("#rest").tap();
  // Every answer and figure is as large as a thumb needs, and nothing lies over another.
  const hidden = await page.evaluate(() => [...document.querySelectorAll("[data-zone] label")].filter((label) => {
    label.scrollIntoView({ block: "center" });
    const { left, top, width, height } = label.getBoundingClientRect();
    const places = [0.1, 0.5, 0.9].map((share) => document.elementFromPoint(left + share * width, top + height / 2));
    return width < 44 || height < 43.5 || places.some((seen) => !label.contains(seen));
  }).map((label) => `${label.closest("[data-zone]").dataset.zone}: ${label.textContent}`));
  assert.deepEqual(hidden, []);
  await page.locator("#keep").tap();
  await page.locator("#answer", { hasText: "Kept on this phone" }).waitFor();
  assert.match(await page.locator("#waiting").innerText(), /1/);
});

test("it is sent once there is a server, and the next draft changes as shown", async () => {
  const { page } = browser;
  server = await server.again();
  await page.goto(production);
  await onDevice.holds(page, 0);
  expectOk(await page.goto(`${performers.TW90}/next/right`));
  assert.match(await cell(page, "wrist", 1), /\(-6\)/);
  assert.match(await cell(page, "wrist", 2), /last fitting/);
  assert.match(await cell(page, "index_length", 1), /\(\+2\)/);
  assert.equal(await cell(page, "palm", 0), await cell(page, "palm", 1), "good stays as it is");
  const shown = [await cell(page, "wrist", 0), await cell(page, "wrist", 1)].map(parseFloat);
  const girthAfter = await drafted(page, performers.TW90, "wrist");
  assert.equal(girthAfter, Math.round(shown[1]), "the draft is the one that was shown");
  assert.equal(girthBefore, Math.round(shown[0]));
});

test("what was shown can be set by hand, undone, and is kept as the next version", async () => {
  const { page } = browser;
  expectOk(await page.goto(`${performers.TW90}/next/right`));
  await page.locator("[name='mm.wrist']").fill("-3");
  await page.locator("button[value=set]").tap();
  await row(page, "wrist").locator("td", { hasText: "set by hand (" }).waitFor();
  assert.match(await cell(page, "wrist", 1), /\(-3\)/);
  await page.locator("button[value=undo]").tap();
  await row(page, "wrist").getByText("last fitting").waitFor();
  await page.locator("button[value=keep]").tap();
  await page.locator("p.good").waitFor();
  assert.equal(await page.getByText(/Version [12] · Kelp/).count() >= 2, true);
});

test("a sign of constriction says to take the glove off", async () => {
  const { page } = browser;
  await page.goto(`${performers.TW90}/fitting?side=right`);
  await page.locator("#fitting[data-ready=yes]").waitFor();
  assert.equal(await page.locator("#off").isVisible(), false);
  await page.locator("[name='sign.numbness']").tap();
  assert.match(await page.locator("#off").innerText(), /Take the glove off now/);
});

test("the next performer's first glove starts from what was learned, less than what was asked", async () => {
  const { page } = browser;
  expectOk(await page.goto(`${performers.TW92}/next/right`));
  assert.match(await cell(page, "wrist", 2), /learned/);
  const learned = Number(await row(page, "wrist").locator("input").getAttribute("placeholder"));
  assert.ok(learned < 0 && learned > -6, `${learned}`);
  await page.getByRole("link", { name: "Fabric memory" }).tap();
  await page.locator("tr[data-zone=wrist]").waitFor();
  assert.match(await row(page, "wrist").innerText(), /%/);
  expectNoProblems(browser.problems);
});
