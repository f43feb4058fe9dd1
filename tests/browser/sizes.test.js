// The pages of sizes and of the cast in figures with a keyboard alone: everything is reached by Tab,
// chosen by typing, sent by Enter, and a refused input has the focus.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { readFile } from "node:fs/promises";
import { desktop, openBrowser } from "./browser.js";
import { expectNoProblems, expectOk } from "./expect.js";
import { signIn } from "./pages.js";
import { startServer } from "./server.js";

let server, browser, page, production;

before(async () => {
  server = await startServer({ command: "demo" });
  browser = await openBrowser(desktop);
  page = browser.page;
  await signIn(page, server.signIn);
  production = new URL(await page.locator("a[href^='/productions/']").first().getAttribute("href"), page.url()).href;
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

/** Goes on by Tab until the element with this id has the focus. */
async function tabTo(id) {
  for (let presses = 0; presses < 80; presses += 1) {
    await page.keyboard.press("Tab");
    if ((await page.evaluate(() => document.activeElement?.id)) === id) return;
  }
  assert.fail(`Tab does not reach #${id}`);
}

/** Sends the form that has the focus. */
async function send() {
  await Promise.all([page.waitForNavigation(), page.keyboard.press("Enter")]);
}

test("sizes are asked for, read and kept without a mouse", async () => {
  expectOk(await page.goto(`${production}/sizes`));
  await tabTo("sizes");
  await page.keyboard.type("4");
  await send();
  const names = async () => page.locator("table").nth(0).locator("tbody th").allInnerTexts();
  assert.deepEqual(await names(), ["A", "B", "C", "D"]);
  // Somebody new, by three readings.
  for (const [id, value] of [["girth", "19.5 cm"], ["length", "181"], ["knuckle", "60"]]) {
    await tabTo(id);
    await page.keyboard.type(value);
  }
  await send();
  const chances = await page.locator("#quick tbody td").allInnerTexts();
  const sizes = chances.slice(0, -1).map(Number);
  assert.equal(sizes.length, 4);
  assert.ok(Math.abs(sizes.reduce((a, b) => a + b, 0) - 100) <= 2, `${sizes} add up to 100`);
  // A wide table is reached and scrolled by keyboard.
  const label = "Who takes which size";
  for (let presses = 0; presses < 80; presses += 1) {
    await page.keyboard.press("Tab");
    if ((await page.evaluate(() => document.activeElement?.getAttribute("aria-label"))) === label) break;
  }
  assert.equal(await page.evaluate(() => document.activeElement?.getAttribute("aria-label")), label);
});

test("a refused input is named, keeps what was typed and has the focus", async () => {
  expectOk(await page.goto(`${production}/sizes`));
  await tabTo("sizes");
  await page.keyboard.type("40");
  await tabTo("girth");
  await page.keyboard.type("194");
  await send();
  assert.equal(await page.evaluate(() => document.activeElement?.id), "sizes");
  assert.equal(await page.locator("#sizes").getAttribute("aria-invalid"), "true");
  assert.match(await page.locator("#sizes-error").innerText(), /1 to 12/);
  assert.equal(await page.locator("#girth").inputValue(), "194");
  await page.keyboard.press("Control+A");
  await page.keyboard.type("3");
  await send();
  assert.equal(await page.locator("#sizes-error").count(), 0);
});

test("a dimension is chosen and its histogram read without a mouse", async () => {
  expectOk(await page.goto(`${production}/cast`));
  await tabTo("dimension");
  await page.keyboard.type("Wrist girth");
  assert.equal(await page.locator("#dimension").inputValue(), "wrist_girth");
  await tabTo("sizes");
  await send();
  assert.match(page.url(), /dimension=wrist_girth/);
  assert.match(await page.locator("h2").first().innerText(), /Wrist girth/);
  const figures = page.locator("figure svg");
  assert.equal(await figures.count(), 2);
  // The columns of the table beside the histogram hold everybody who is counted.
  const counted = Number(await page.locator(".figures b").first().innerText());
  const cells = await page.locator("table").first().locator("tbody tr").evaluateAll((rows) =>
    rows.map((row) => Number(row.children[1].innerText) + Number(row.children[2].innerText)),
  );
  assert.equal(cells.reduce((a, b) => a + b, 0), counted);
});

test("the glove of a size is fetched by its link", async () => {
  expectOk(await page.goto(`${production}/sizes?sizes=3&paper=letter`));
  for (const [name, file] of [["PDF, Size B, Left hand", "Size-B-left.pdf"], ["PDF, Size EN 9, Right hand", "EN-9-right.pdf"]]) {
    const arriving = page.waitForEvent("download");
    await page.getByRole("link", { name, exact: true }).focus();
    await page.keyboard.press("Enter");
    const download = await arriving;
    assert.equal(download.suggestedFilename(), file);
    const bytes = await readFile(await download.path());
    assert.equal(bytes.subarray(0, 5).toString(), "%PDF-");
    // US Letter in points, upright or lying.
    assert.match(bytes.toString("latin1"), /MediaBox ?\[ ?0 0 (612 792|792 612) ?\]/);
  }
});

test("no script error and no request elsewhere", () => {
  expectNoProblems(browser.problems);
});
