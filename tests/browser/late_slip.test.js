// A slip that shows late: the value was plausible when it was typed, alone; the readings after it
// make it a slip. The page names it, leads back to its step, and its button mends it; so does the
// button on the performer's page, for whoever looks at the table later.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems, expectOk } from "./expect.js";
import { addPerformer, addProduction, measuring, onDevice, signIn } from "./pages.js";
import { startServer } from "./server.js";

// An invented woman's right hand near the published means of women (Greiner 1991): palm and middle
// finger make up the hand (103 + 78 = 181), but the finger was typed as 87.
const slip = ["middle_length", "87"];
const rest = [["palm_length", "103"], ["hand_length", "181"]];

let server, browser, production;
const performers = [];

before(async () => {
  server = await startServer();
  browser = await openBrowser(phone);
  await signIn(browser.page, server.signIn);
  production = await addProduction(browser.page, "The Salt Stair");
  for (const code of ["TW81", "TW82", "TW83"]) performers.push(await addPerformer(browser.page, { code, name: "" }));
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

/** Measures the three dimensions in their order; the first must be taken without a word. */
async function measureWithSlip(page, performer) {
  const [dimension, value] = slip;
  await measuring.open(page, performer, { side: "right", dimension });
  await measuring.enter(page, value);
  assert.equal(await page.locator("#answer .flag").count(), 0, "plausible when it was typed");
  const state = await measuring.state(page, performer);
  assert.deepEqual(state.flags, []);
  for (const [next, mm] of rest) {
    await measuring.open(page, performer, { side: "right", dimension: next });
    await measuring.enter(page, mm);
  }
  await named(page).waitFor();
}

/** The button that leads back to the step of the slip. */
const named = (page) => page.locator("#answer").getByRole("button", { name: /Middle finger length/ });

/** Values in use of the dimension, mm. */
async function held(page, performer) {
  const { readings } = await measuring.state(page, performer);
  return readings.filter((reading) => reading.dimension === "middle_length").map((reading) => reading.mm);
}

test("a slip found late is named, leads back to its step, and its button mends it", async () => {
  const { page } = browser;
  const performer = performers[0];
  await measureWithSlip(page, performer);
  await named(page).tap();
  await page.locator("#step[data-step=middle_length] #answer .flag").first().waitFor();
  assert.match(await measuring.answer(page), /78 with its digits swapped reads 87/);
  await page.locator("#answer").getByRole("button", { name: "Use 78 mm" }).first().tap();
  await page.locator("#answer .flag").waitFor({ state: "detached" });
  assert.deepEqual(await held(page, performer), [78]);
  assert.deepEqual((await measuring.state(page, performer)).flags, []);
});

test("the performer's page mends it as well", async () => {
  const { page } = browser;
  const performer = performers[1];
  await measureWithSlip(page, performer);
  expectOk(await page.goto(performer));
  const mend = page.getByRole("button", { name: "Use 78 mm" }).first();
  await Promise.all([page.waitForNavigation(), mend.tap()]);
  assert.deepEqual(await held(page, performer), [78]);
  assert.equal(await page.getByRole("button", { name: "Use 78 mm" }).count(), 0);
});

test("without signal the same button mends it, and the server hears of it later", async () => {
  const { page } = browser;
  const performer = performers[2];
  await measuring.open(page, performer, { side: "right", dimension: "hand_length" });
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
  await measureWithSlip(page, performer);
  await server.kill();
  await page.goto(`${performer}/measure?side=right&step=middle_length`);
  await page.locator("#step[data-step=middle_length][data-ready=yes]").waitFor();
  await page.locator("#answer").getByRole("button", { name: "Use 78 mm" }).first().tap();
  await page.locator("#answer .flag").waitFor({ state: "detached" });
  server = await server.again();
  await page.goto(production);
  await onDevice.holds(page, 0);
  assert.deepEqual(await held(page, performer), [78]);
  expectNoProblems(browser.problems);
});
