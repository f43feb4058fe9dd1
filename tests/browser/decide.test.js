// Before a batch runs: the call order on the board, one choice for each performer by keyboard and on
// a phone, and what a phone without signal knows of who is to be measured again.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems, expectNoSidewaysScroll, expectOk, violations } from "./expect.js";
import { addProduction, importRoster, signIn } from "./pages.js";
import { startServer } from "./server.js";

const ROSTER = `code,name,sex,call,hand length,hand girth,middle length
D1,,f,Dancers,181,187,78
D2,,f,Dancers,,,
S1,,m,Singers,,,
D3,,f,Dancers,183,190,780
`;

let server, browser, production;

before(async () => {
  server = await startServer();
  browser = await openBrowser(phone);
  await signIn(browser.page, server.signIn);
  production = await addProduction(browser.page, "The Salt Stair");
  await importRoster(browser.page, ROSTER);
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

const shown = (page) => page.locator("#roster tbody tr:not([hidden]) th a").allInnerTexts();

test("the board shows one call, and next in its order", async () => {
  const { page } = browser;
  expectOk(await page.goto(production));
  const next = page.locator("#next a");
  assert.match(await next.innerText(), /D1$/, "the first of the roster who is not complete");
  await page.locator("#called").selectOption("Singers");
  assert.deepEqual(await shown(page), ["S1"]);
  assert.match(await next.innerText(), /S1$/);
  await page.locator("#find").fill("D1");
  assert.deepEqual(await shown(page), []);
  await page.locator("#find").fill("");
  await page.locator("#called").selectOption("-");
  assert.deepEqual(await shown(page), []);
  assert.equal(await next.isVisible(), false, "nobody without a call is due");
  await page.locator("#called").selectOption("Singers");
  await next.click();
  const id = await page.locator("#step").first().getAttribute("data-step");
  assert.ok(id && /S1/.test(await page.locator("h1").innerText()));
});

test("each performer is decided about by keyboard, a group at once, and the batch of a call begins", async () => {
  const { page } = browser;
  expectOk(await page.goto(`${production}/batches`));
  assert.deepEqual(await violations(page), []);
  await expectNoSidewaysScroll(page, "the page");
  const choice = (code) => page.getByLabel(`Decision ${code}`, { exact: true });
  assert.equal(await choice("D1").inputValue(), "draft");
  assert.equal(await choice("S1").inputValue(), "out");
  await choice("D1").focus();
  await page.keyboard.press("Tab");
  assert.ok(await page.evaluate(() => document.activeElement.closest("tr")), "the next stop is in the table as well");
  await choice("D2").focus();
  await page.keyboard.type("Measure");
  assert.equal(await choice("D2").inputValue(), "again");
  // The call hides the others, and "all of whom it says" leaves them alone.
  await page.locator("#call").selectOption("Dancers");
  assert.equal(await choice("S1").isVisible(), false);
  await page.locator("#group").selectOption("not_measured");
  await page.locator("#deed").selectOption("draft");
  await page.locator("#set").click();
  assert.equal(await choice("D2").inputValue(), "draft");
  assert.equal(await choice("S1").inputValue(), "out");
  assert.match(await page.locator("#set-done").innerText(), /^1 /);
  await page.locator("#group").selectOption("flagged");
  await page.locator("#deed").selectOption("again");
  await page.locator("#set").click();
  assert.equal(await choice("D3").inputValue(), "again");
  await page.getByRole("button", { name: "Start" }).click();
  await page.locator("[data-batch]").first().waitFor();
  assert.match(await page.locator("[data-batch]").first().innerText(), /^2 /);
  assert.equal(await choice("D3").inputValue(), "still");
});

test("the board and the phone without signal say what to measure again, until it is measured", async () => {
  const { page, context } = browser;
  expectOk(await page.goto(production));
  assert.deepEqual(await violations(page), []);
  await expectNoSidewaysScroll(page, "the page");
  const row = page.locator("#roster tr", { hasText: "D3" });
  assert.match(await row.innerText(), /measure again: Right hand, Middle finger length/);
  await page.locator("#ready").filter({ hasText: /\S/ }).waitFor();
  await context.setOffline(true);
  await page.goto(production).catch(() => {});
  const card = page.locator("#known a", { hasText: "D3" });
  await card.waitFor();
  assert.match(await card.innerText(), /Dancers[\s\S]*measure again: Right hand, Middle finger length/);
  await card.tap();
  await page.locator("#step[data-step=middle_length][data-ready=yes]").waitFor();
  await page.locator("#value").fill("78");
  await page.locator("#keep").tap();
  // The flag of the slip stands there from the start: only the new reading waits.
  await page.locator("#answer", { hasText: "◷" }).waitFor();
  await page.goto(production).catch(() => {});
  await card.waitFor();
  assert.doesNotMatch(await card.innerText(), /measure again/, "the reading that waits here is the new one");
  assert.match(await card.innerText(), /◷ 1/);
  await context.setOffline(false);
  await card.filter({ hasNotText: "◷" }).waitFor();
  assert.doesNotMatch(await card.innerText(), /measure again/, "what was sent is known, and stays known without signal");
  await page.goto(production);
  await page.waitForFunction(() => !document.querySelector("#roster").innerText.includes("measure again"));
});

test("no script error and no request elsewhere", () => {
  expectNoProblems(browser.problems);
});
