// The main job on the smallest phone: 360 x 640, with touch.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems, expectNoSidewaysScroll } from "./expect.js";
import { addPerformer, addProduction, drafting, measuring, signIn } from "./pages.js";
import { startServer } from "./server.js";

// An invented woman's right hand, near the published means of women (Greiner 1991); hand girth is
// typed in centimetres while the form stands on millimetres.
const slip = { dimension: "hand_girth", typed: "18.4", meant: "184" };
const hand = [
  ["hand_length", "180"],
  ["palm_length", "103"],
  ["hand_breadth", "79"],
  ["hand_girth", slip.typed],
  ["wrist_girth", "152"],
  ["middle_length", "77"],
  ["index_length", "70"],
  ["index_knuckle_girth", "61"],
];

let server, browser, performer;

before(async () => {
  server = await startServer();
  browser = await openBrowser(phone);
  await signIn(browser.page, server.signIn);
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

test("somebody signs in by link and adds a performer", async () => {
  await addProduction(browser.page, "The Salt Stair");
  performer = await addPerformer(browser.page, { code: "TW90", name: "Ottoline Fairweather" });
  await expectNoSidewaysScroll(browser.page, "the roster board");
});

test("eight dimensions are measured, and the slip is flagged within its step", async () => {
  const { page } = browser;
  for (const [dimension, value] of hand) {
    await measuring.open(page, performer, { side: "right", dimension });
    await expectNoSidewaysScroll(page, `the step ${dimension}`);
    const { results } = await measuring.enter(page, value);
    assert.equal(results[0].state, "kept", `${dimension} ${value}`);
  }
  await measuring.open(page, performer, { side: "right", dimension: slip.dimension });
  const answer = await measuring.answer(page);
  assert.match(answer, /18\.4/, answer);
  assert.match(answer, /184/, `the repair is offered: ${answer}`);
});

test("taking the repair that is offered ends the flag", async () => {
  const { page } = browser;
  await measuring.open(page, performer, { side: "right", dimension: slip.dimension });
  const button = page.locator("#answer").getByRole("button", { name: /184/ });
  const answered = page.waitForResponse((r) => /\/(repair|api\/facts)$/.test(new URL(r.url()).pathname));
  await button.tap();
  await answered;
  await button.waitFor({ state: "detached" });
  const state = await measuring.state(page, performer);
  assert.deepEqual(state.flags.filter((flag) => !flag.kept), []);
  const girth = state.readings.filter((reading) => reading.dimension === slip.dimension);
  assert.deepEqual(girth.map((reading) => reading.mm), [Number(slip.meant)]);
});

test("nonsense is refused at the input, with what was typed still there", async () => {
  const { page } = browser;
  await measuring.open(page, performer, { side: "left", dimension: "hand_length" });
  for (const typed of ["abc", "-5", "0", "10000", "7 3/8 ft"]) {
    await measuring.open(page, performer, { side: "left", dimension: "hand_length" });
    assert.notEqual(await measuring.refused(page, typed), "", `no message for ${typed}`);
    assert.equal(await page.locator("#value").inputValue(), typed);
  }
});

test("the draft opens with its drawing, and the PDF comes down", async () => {
  const { page } = browser;
  await drafting.open(page, performer, "right");
  await expectNoSidewaysScroll(page, "the draft");
  const { name, bytes } = await drafting.download(page);
  assert.match(name, /^TW90.*right.*\.pdf$/i);
  assert.equal(bytes.subarray(0, 5).toString(), "%PDF-");
  assert.ok(!bytes.includes("Fairweather"), "the name stays off the draft");
});

test("no page on the way had a script error or asked another host", () => {
  expectNoProblems(browser.problems);
});
