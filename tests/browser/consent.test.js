// A minor is measured only after a guardian's consent, with a connection and without.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems } from "./expect.js";
import { addProduction, signIn, until } from "./pages.js";
import { startServer } from "./server.js";

let server, browser, home;

before(async () => {
  server = await startServer();
  browser = await openBrowser(phone);
  home = await signIn(browser.page, server.signIn);
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

async function addGirl(page, code, age) {
  const form = page.locator("#add form");
  await form.locator("[name=code]").fill(code);
  await form.locator("[name=population]").selectOption("girl");
  await form.locator("[name=age]").fill(age);
  await form.locator("button").click();
}

async function addressOf(page, code) {
  const link = page.locator("#roster").getByRole("link", { name: code, exact: true });
  await link.waitFor();
  return new URL(await link.getAttribute("href"), page.url()).href;
}

test("the form asks for the years of a child and says so at its place", async () => {
  const { page } = browser;
  await addProduction(page, "The Glass Orchard");
  await addGirl(page, "GO-09", "");
  await page.locator("#age-error").waitFor();
  assert.equal(await page.locator("#code").inputValue(), "GO-09", "nothing entered is lost");
  await page.locator("#age").fill("9");
  await page.locator("#add form button").click();
  await addressOf(page, "GO-09");
});

test("measuring a minor begins with the guardian's consent", async () => {
  const { page } = browser;
  const performer = await addressOf(page, "GO-09");
  await page.goto(`${performer}/measure`);
  await page.waitForURL(/\/consent$/);
  await page.locator("input[value=signed]").check();
  await page.locator("main form button.main").tap();
  await page.locator("#step[data-ready=yes]").waitFor();
});

test("a phone without signal asks as well, and what was agreed goes ahead of the reading", async () => {
  const { page } = browser;
  await page.goto(home);
  const production = await addProduction(page, "The Tin Orchard");
  await addGirl(page, "TO-10", "10");
  const performer = await addressOf(page, "TO-10");
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
  await page.goto(production);
  await page.waitForFunction(() => document.querySelector("#ready").textContent.includes("✓"));
  await server.kill();
  await page.goto(`${performer}/measure?side=right&step=hand_length`);
  await page.locator("input[name=manner][value=spoken]").check();
  assert.equal(await page.locator("#step").isVisible(), false, "nothing is measured before");
  await page.locator("form.stack button.main").tap();
  await page.locator("#step[data-ready=yes]").waitFor();
  await page.locator("#value").fill("141");
  await page.locator("#keep").tap();
  await page.locator("#answer .good").waitFor();
  server = await server.again();
  await page.goto(production);
  const ask = (id) => page.evaluate(async (one) => (await fetch(`/api/performers/${one}`)).json(), id);
  const held = await until(() => ask(performer.split("/").pop()), ({ readings }) => readings.length, "the reading is stored");
  assert.equal(held.needs_consent, false);
  assert.deepEqual(held.readings.map((reading) => reading.mm), [141]);
  expectNoProblems(browser.problems.filter((problem) => !/ERR_CONNECTION_REFUSED|Failed to fetch/.test(String(problem))));
});
