// Every step with the thumb of one hand on the smallest phone: 360 x 640. Nothing to tap is smaller
// than 44 px either way, nothing to read smaller than 16 px, what a step needs stands on the screen
// without scrolling, and it works at 200 % zoom, in the dark and with reduced motion.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems } from "./expect.js";
import { addPerformer, addProduction, measuring, signIn } from "./pages.js";
import { startServer } from "./server.js";

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const LEAST_PX = 44;
const LEAST_TEXT_PX = 16;

let server, browser, performer, steps;

before(async () => {
  server = await startServer();
  browser = await openBrowser({ ...phone, colorScheme: "dark", reducedMotion: "reduce" });
  const { page } = browser;
  await signIn(page, server.signIn);
  await addProduction(page, "The Salt Stair");
  performer = await addPerformer(page, { code: "TW94", name: "Ottoline Fairweather" });
  await measuring.open(page, performer, { side: "right", dimension: "hand_length" });
  await measuring.enter(page, "180");
  steps = JSON.parse(await page.locator("#data").textContent()).steps.map((step) => step.key);
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

/** What is too small, or off the screen though a step needs it. */
const shape = (page, needed) => page.evaluate(([LEAST, TEXT, wanted]) => {
  const seen = (e) => e.checkVisibility() && !e.closest(".hidden, .skip") && e.getBoundingClientRect().width > 1;
  const name = (e) => (e.innerText || e.id || e.tagName).trim().slice(0, 30);
  const box = (e) => (e.matches(".units input") ? e.closest("label") : e).getBoundingClientRect();
  const targets = [...document.querySelectorAll("main button, main a, main input:not([type=hidden]), header a")].filter(seen);
  const small = targets.filter((e) => box(e).width < LEAST - 0.5 || box(e).height < LEAST - 0.5)
    .map((e) => `${name(e)} ${box(e).width.toFixed(0)} x ${box(e).height.toFixed(0)}`);
  const words = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const tiny = new Set();
  for (let node = words.nextNode(); node; node = words.nextNode()) {
    const parent = node.parentElement;
    if (!node.data.trim() || !seen(parent) || parent.closest("script, svg")) continue;
    if (parseFloat(getComputedStyle(parent).fontSize) < TEXT) tiny.add(`${node.data.trim().slice(0, 20)}`);
  }
  const off = wanted.filter((selector) => [...document.querySelectorAll(selector)].filter(seen)
    .some((e) => box(e).top < 0 || box(e).bottom > innerHeight + 0.5));
  const missing = wanted.filter((selector) => ![...document.querySelectorAll(selector)].some(seen));
  return {
    small, tiny: [...tiny], off, missing,
    sideways: document.documentElement.scrollWidth - document.documentElement.clientWidth,
  };
}, [LEAST_PX, LEAST_TEXT_PX, needed]);

const fine = { small: [], tiny: [], off: [], missing: [], sideways: 0 };
const always = ["#value", ".units label", "#keypad button", "#back", "#skip", "#keep", "#next", "#swap", "#dimension", "#what", "#tool"];

test("every step of both units shows its drawing, its words and every key on one screen", async () => {
  const { page } = browser;
  assert.equal(steps.length, 25);
  for (const unit of ["mm", "in"]) {
    for (const step of steps) {
      await measuring.open(page, performer, { side: "left", dimension: step });
      await page.locator(`.units input[value=${unit}]`).check({ force: true });
      const drawn = await page.locator(".tape.on").evaluateAll((all) => all.map((e) => ({
        of: e.dataset.for, paths: e.querySelectorAll("path:not(.guide)").length, ends: e.querySelectorAll("circle").length,
      })));
      assert.equal(drawn.length, 1);
      assert.equal(drawn[0].of, step);
      assert.ok(drawn[0].paths >= 1 && drawn[0].ends === 2, `${step}: a path and its two ends`);
      assert.deepEqual(await shape(page, [...always, "#hand"]), fine, `${step} in ${unit}`);
    }
  }
});

test("with an answer, with a flag and with the reasons of a skip the keys stay in reach, in every language", async () => {
  const { page, context } = browser;
  for (const language of ["de", "en"]) {
    await context.addCookies([{ name: "language", value: language, url: new URL(performer).origin }]);
    await page.goto(performer);
    assert.equal(await page.locator("html").getAttribute("lang"), language);
    await measuring.open(page, performer, { side: "right", dimension: "palm_length" });
    await page.locator(".units input[value=mm]").check({ force: true });
    await measuring.enter(page, "103");
    await page.locator("#answer .good").waitFor();
    assert.deepEqual(await shape(page, always), fine, `${language}, after a value that is kept`);
    await measuring.open(page, performer, { side: "right", dimension: "hand_length" });
    assert.deepEqual(await shape(page, always), fine, `${language}, at a step that has a reading`);
    await measuring.open(page, performer, { side: "right", dimension: "middle_length" });
    await measuring.enter(page, "97");
    await page.locator("#answer .flag").waitFor();
    const needed = ["#value", "#keypad button", "#keep", "#next", "#answer .flag button", "#answer .flag input"];
    assert.deepEqual(await shape(page, needed), fine, `${language}, at a flag`);
    await measuring.open(page, performer, { side: "right", dimension: "ring_length" });
    await page.locator("#skip").tap();
    await page.locator("#answer button").nth(2).waitFor();
    assert.deepEqual(await shape(page, ["#answer button", "#skip", "#keep"]), fine, `${language}, at the reasons of a skip`);
  }
});

test("a fraction of an inch is typed with the thumb", async () => {
  const { page } = browser;
  await measuring.open(page, performer, { side: "left", dimension: "hand_length" });
  await page.locator(".units input[value=in]").check({ force: true });
  const tap = (name) => page.locator("#keypad").getByRole("button", { name, exact: true }).tap();
  for (const key of ["7", "1/8", "3/8"]) await tap(key);
  assert.equal(await page.locator("#value").inputValue(), "7 3/8", "another fraction takes the place of the first");
  await tap("Delete");
  assert.equal(await page.locator("#value").inputValue(), "7", "a fraction goes in one piece");
  for (const key of ["1/8"]) await tap(key);
  const answered = page.waitForResponse((r) => new URL(r.url()).pathname === "/api/facts");
  await page.locator("#keep").tap();
  await answered;
  const { readings } = await measuring.state(page, performer);
  const kept = readings.find((one) => one.side === "left" && one.dimension === "hand_length");
  assert.equal(kept.mm, 7.125 * 25.4);
  await page.locator(".units input[value=mm]").check({ force: true });
});

test("at 200 % zoom a value is entered without scrolling sideways", async () => {
  const { page } = browser;
  await page.setViewportSize({ width: 180, height: 320 });
  await measuring.open(page, performer, { side: "left", dimension: "thumb_length" });
  // Pixels are twice as large here, and so are the keys.
  const { sideways, tiny } = await shape(page, []);
  assert.deepEqual({ sideways, tiny }, { sideways: 0, tiny: [] });
  await measuring.enter(page, "64");
  const { readings } = await measuring.state(page, performer);
  assert.ok(readings.some((one) => one.dimension === "thumb_length" && one.mm === 64));
  await page.setViewportSize(phone.viewport);
});

test("in the dark, with a flag, nothing is hard to read, and nothing moves", async () => {
  const { page } = browser;
  await measuring.open(page, performer, { side: "right", dimension: "middle_length" });
  await page.locator("#answer .flag").waitFor();
  const paper = await page.evaluate(() => getComputedStyle(document.body).backgroundColor.match(/\d+/g).map(Number));
  assert.ok(Math.max(...paper) < 64, `the page is dark: ${paper}`);
  const { violations } = await page.evaluate(async (source) => {
    (0, eval)(source);
    return window.axe.run(document, { runOnly: ["wcag2aa"] });
  }, axe);
  assert.deepEqual(violations.map((v) => [v.id, v.nodes[0].html]), []);
  assert.equal(await page.evaluate(() => document.getAnimations().length), 0);
});

test("no page on the way had a script error", () => {
  expectNoProblems(browser.problems);
});
