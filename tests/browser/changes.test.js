// Changes of mind without signal, and a new version of the app while readings wait: what was done on
// the phone is what the server learns, in that order, once.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems } from "./expect.js";
import { addPerformer, addProduction, measuring, onDevice, signIn } from "./pages.js";
import { startServer } from "./server.js";

let server, browser, production, performer;

before(async () => {
  server = await startServer();
  browser = await openBrowser(phone);
  const { page } = browser;
  await signIn(page, server.signIn);
  production = await addProduction(page, "The Paper Harbour");
  performer = await addPerformer(page, { code: "PH11", name: "" });
  for (const [dimension, value] of [["hand_length", "180"], ["palm_length", "103"]]) {
    await measuring.open(page, performer, { side: "right", dimension });
    await measuring.enter(page, value);
  }
  await page.goto(production);
  await page.locator("#ready", { hasText: "✓" }).waitFor();
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

async function openAlone(page, dimension) {
  await page.goto(`${performer}/measure?side=right&step=${dimension}`);
  await page.locator(`#step[data-step=${dimension}][data-ready=yes]`).waitFor();
}

async function enterAlone(page, value) {
  await page.locator("#value").fill(value);
  await page.locator("#keep").tap();
}

test("without signal a reading is undone, a step skipped with its reason, a flag kept with one", async () => {
  const { page } = browser;
  await server.kill();
  await openAlone(page, "index_length");
  await enterAlone(page, "70");
  await page.locator("#answer", { hasText: "Kept: Index finger length 70 mm" }).waitFor();
  await openAlone(page, "index_length");
  assert.match(await measuring.answer(page), /Taken: 70 mm ◷/, "what waits is marked");
  await page.getByRole("button", { name: "Undo" }).tap();
  await page.getByRole("button", { name: "Undo" }).waitFor({ state: "detached" });

  await openAlone(page, "thumb_length");
  await page.locator("#skip").tap();
  await page.getByRole("button", { name: "cannot be reached" }).tap();
  await page.locator("#step:not([data-step=thumb_length])").waitFor();

  await openAlone(page, "middle_length");
  await enterAlone(page, "97");
  await page.locator("#answer .flag").waitFor();
  await page.getByRole("textbox", { name: "Why is the value right?" }).fill("measured twice");
  await page.getByRole("button", { name: "Keep it" }).tap();
  await page.locator("#answer .flag").waitFor({ state: "detached" });
  await openAlone(page, "middle_length");
  assert.equal(await page.locator("#answer .flag").count(), 0, "a flag that was kept stays settled");
  const kinds = (await onDevice.facts(page)).map((fact) => fact.fact);
  assert.deepEqual(kinds, ["reading", "withdrawal", "skip", "reading", "acceptance"]);
});

test("with a connection the server knows the same", async () => {
  const { page } = browser;
  server = await server.again();
  await page.goto(production);
  await onDevice.holds(page, 0);
  const state = await measuring.state(page, performer);
  assert.deepEqual(state.readings.map((r) => [r.dimension, r.mm]), [["hand_length", 180], ["palm_length", 103], ["middle_length", 97]]);
  assert.deepEqual(state.skipped, [["right", "thumb_length"]]);
  assert.deepEqual(state.flags.filter((f) => f.dimension === "middle_length").map((f) => f.kept), ["measured twice"]);
});

test("a new version of the app takes over when asked, and what waits is still there and is sent", async () => {
  const { page, context } = browser;
  await context.clearCookies();
  await page.goto(new URL("/shell/measure", production).href);
  const id = performer.split("/").pop();
  await page.evaluate(async (who) => {
    const { keepFacts, noted } = await import("/static/device.js");
    const { uuid7 } = await import("/static/api.js");
    await keepFacts(await noted("account"), ["ring_length", "little_length"].map((dimension, i) => ({
      fact: "reading", id: uuid7(), performer: who, side: "right", dimension,
      value: ["72", "57"][i], unit: "mm", taken_ms: Date.now(),
    })));
  }, id);
  const before = await onDevice.facts(page);
  const versions = () => page.evaluate(async () => (await caches.keys()).filter((name) => name.startsWith("handcall-")));
  const [old] = await versions();
  // The worker's version is made of every file it keeps, the words of the pages among them: another
  // language is another version.
  await context.addCookies([{ name: "language", value: "de", url: new URL(production).origin }]);
  await page.evaluate(async () => { await (await navigator.serviceWorker.getRegistration()).update(); });
  const offer = page.locator("#update").getByRole("button");
  await offer.waitFor();
  assert.deepEqual(await onDevice.facts(page), before, "a version that is only offered changes nothing");
  await Promise.all([page.waitForEvent("load"), offer.tap()]);
  assert.equal(await page.locator("html").getAttribute("lang"), "de");
  const [now, ...others] = await versions();
  assert.deepEqual(others, []);
  assert.notEqual(now, old);
  assert.deepEqual(await onDevice.facts(page), before);
  await context.clearCookies();
  await server.kill();
  server = await server.again();
  await signIn(page, server.signIn);
  await onDevice.holds(page, 0);
  const { readings } = await measuring.state(page, performer);
  assert.deepEqual(readings.slice(3).map((reading) => reading.id).sort(), before.map((fact) => fact.id).sort());
});

test("no page on the way had a script error", () => {
  expectNoProblems(browser.problems);
});
