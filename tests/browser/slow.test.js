// Measuring on a slow line: what the developer tools of browsers call slow 3G (400 kbit/s both ways,
// two seconds there and back). A value is kept on the phone and the next step is there before the
// server has answered; in the end everything is stored once. Times are printed, not held.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems } from "./expect.js";
import { addPerformer, addProduction, measuring, signIn, until } from "./pages.js";
import { startServer } from "./server.js";

const line = { offline: false, latency: 2000, downloadThroughput: 50_000, uploadThroughput: 50_000 };
const hand = [["hand_length", "180"], ["palm_length", "103"], ["hand_breadth", "79"], ["hand_girth", "18.4"]];

let server, browser, performer;

before(async () => {
  server = await startServer();
  browser = await openBrowser({ ...phone, serviceWorkers: "block" });
  await signIn(browser.page, server.signIn);
  await addProduction(browser.page, "The Salt Stair");
  performer = await addPerformer(browser.page, { code: "TW95", name: "" });
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

const stored = async (page) => (await measuring.state(page, performer)).readings;

test("on a slow line values are kept at once, the slip is named, and all is stored once", async () => {
  const { page, context } = browser;
  await page.evaluate(() => localStorage.setItem("handcall-order", "list"));
  const cdp = await context.newCDPSession(page);
  await cdp.send("Network.enable");
  await cdp.send("Network.emulateNetworkConditions", line);
  const start = performance.now();
  await page.goto(`${performer}/measure?side=right&step=hand_length`, { waitUntil: "commit" });
  await page.locator("#value").waitFor();
  const input = performance.now() - start;
  await page.locator("#step[data-ready=yes]").waitFor();
  console.log(`# first input after ${input.toFixed(0)} ms, its script after ${(performance.now() - start).toFixed(0)} ms`);
  let answers = 0;
  page.on("response", (r) => { if (new URL(r.url()).pathname === "/api/facts") answers += 1; });
  for (const [dimension, value] of hand) {
    await page.locator(`#step[data-step=${dimension}]`).waitFor();
    await page.locator("#value").fill(value);
    await page.locator("#keep").tap();
    if (dimension !== "hand_girth") await page.locator("#answer", { hasText: "Kept" }).waitFor();
  }
  await page.locator("#answer .flag").waitFor();
  assert.ok(answers < hand.length, "the steps went on before the server had answered");
  assert.match(await measuring.answer(page), /184 mm in centimetres reads 18\.4/);
  const all = await until(() => stored(page), (readings) => readings.length >= hand.length, "all is stored");
  assert.deepEqual(all.map((reading) => [reading.dimension, reading.typed]), hand);
});

test("no page on the way had a script error", () => {
  expectNoProblems(browser.problems);
});
