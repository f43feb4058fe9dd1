// Whom a performer is compared with stands on the measuring page, and is changed there with and
// without a server; and the page says when a hand is known well enough.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems } from "./expect.js";
import { addPerformer, addProduction, measuring, signIn, until } from "./pages.js";
import { startServer } from "./server.js";

let server, browser, performer;

before(async () => {
  server = await startServer();
  browser = await openBrowser(phone);
  await signIn(browser.page, server.signIn);
  await addProduction(browser.page, "The Salt Stair");
  performer = await addPerformer(browser.page, { code: "TW93", name: "Ottoline Fairweather", population: "women" });
  await measuring.open(browser.page, performer, { side: "right", dimension: "hand_length" });
  await measuring.enter(browser.page, "180");
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

async function choose(page, key) {
  await page.locator("#reference").tap();
  await page.locator("#answer select").selectOption(key);
  await page.locator("#answer form button").tap();
  await page.locator("#answer select").waitFor({ state: "detached" });
}

const range = (page) => page.locator("#range").innerText();

test("with a server the choice is kept and the expected range follows", async () => {
  const { page } = browser;
  await measuring.open(page, performer, { side: "right", dimension: "hand_girth" });
  assert.equal(await page.locator("#compared").innerText(), "women");
  const before = await range(page);
  await choose(page, "men");
  await page.waitForFunction((text) => document.querySelector("#range").innerText !== text, before);
  assert.equal(await page.locator("#compared").innerText(), "men");
  assert.equal((await measuring.state(page, performer)).population, "men");
});

test("without a server the choice counts at once and is sent later", async () => {
  const { page, context, problems } = browser;
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
  await context.setOffline(true);
  await page.goto(`${performer}/measure?side=right&step=hand_girth`);
  await page.locator("#step[data-step=hand_girth][data-ready=yes]").waitFor();
  const before = await range(page);
  await choose(page, "women");
  await page.waitForFunction((text) => document.querySelector("#range").innerText !== text, before);
  assert.equal(await page.locator("#compared").innerText(), "women");
  await context.setOffline(false);
  await page.goto(`${performer}/measure?side=right&step=hand_girth`);
  await page.locator("#step[data-ready=yes]").waitFor();
  await until(() => measuring.state(page, performer), ({ population }) => population === "women", "compared with women");
  expectNoProblems(problems);
});

test("a hand that is known well enough says so", async () => {
  const { page } = browser;
  assert.equal(await page.locator("#enough").isVisible(), false);
  // An invented woman, near the published means (Greiner 1991, Hsiao 2015).
  const values = {
    hand_girth: 187, wrist_girth: 152, thumb_length: 64, index_length: 71, middle_length: 78, ring_length: 73,
    little_length: 60, thumb_knuckle_girth: 63, index_knuckle_girth: 61, middle_knuckle_girth: 61,
    ring_knuckle_girth: 57, little_knuckle_girth: 51, index_tip_girth: 51, middle_tip_girth: 51,
    ring_tip_girth: 48, little_tip_girth: 43,
  };
  for (let repeat = 0; repeat < 2; repeat += 1) {
    for (const [dimension, value] of Object.entries(values)) {
      await measuring.open(page, performer, { side: "right", dimension });
      await measuring.enter(page, String(value));
    }
  }
  await measuring.open(page, performer, { side: "right", dimension: "hand_girth" });
  assert.equal(await page.locator("#enough").isVisible(), true);
  await page.locator("#swap").tap();
  assert.equal(await page.locator("#enough").isVisible(), false, "the left hand is another matter");
});
