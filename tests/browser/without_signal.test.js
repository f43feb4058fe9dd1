// A slip is answered at its step while there is no server to ask: the page, the checks and the
// model are on the phone.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems } from "./expect.js";
import { addPerformer, addProduction, measuring, signIn } from "./pages.js";
import { startServer } from "./server.js";

// An invented woman's right hand, near the published means of women (Greiner 1991).
const hand = [
  ["hand_length", "180"],
  ["palm_length", "103"],
  ["hand_breadth", "79"],
  ["wrist_girth", "152"],
];

let server, browser, performer;

before(async () => {
  server = await startServer();
  browser = await openBrowser(phone);
  await signIn(browser.page, server.signIn);
  await addProduction(browser.page, "The Salt Stair");
  performer = await addPerformer(browser.page, { code: "TW91", name: "Ottoline Fairweather" });
  for (const [dimension, value] of hand) {
    await measuring.open(browser.page, performer, { side: "right", dimension });
    await measuring.enter(browser.page, value);
  }
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

/** Types a value with nobody to answer but the phone itself. */
async function enterAlone(page, value) {
  await page.locator("#value").fill(value);
  await page.locator("#keep").tap();
}

/** Opens a step from what the phone keeps. */
async function openAlone(page, dimension) {
  await page.goto(`${performer}/measure?side=right&step=${dimension}`);
  await page.locator(`#step[data-step=${dimension}][data-ready=yes]`).waitFor();
}

test("the phone keeps the page, the checks and the model", async () => {
  const { page } = browser;
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
  const kept = await page.evaluate(async () => {
    const paths = [];
    for (const name of await caches.keys()) {
      for (const request of await (await caches.open(name)).keys()) paths.push(new URL(request.url).pathname);
    }
    return paths;
  });
  for (const path of ["/api/model", "/static/model.js", "/static/model/words.js", "/shell/measure"]) {
    assert.ok(kept.includes(path), `${path} is not kept: ${kept}`);
  }
});

test("without a server a slip is flagged at its step, with its repair, and a good value is not", async () => {
  const { page } = browser;
  await server.kill();
  await openAlone(page, "hand_girth");
  await enterAlone(page, "18.4");
  await page.locator("#answer .flag").waitFor();
  const answer = await measuring.answer(page);
  assert.match(answer, /184 mm in centimetres reads 18\.4/, answer);
  await page.locator("#answer").getByRole("button", { name: "Use 184 mm" }).tap();
  await page.locator("#answer .flag").waitFor({ state: "detached" });
  await openAlone(page, "middle_length");
  assert.match(await page.locator("#range").innerText(), /Expected 75 to 79 mm/, "what palm and hand length leave for the middle finger");
  await enterAlone(page, "97");
  await page.locator("#answer .flag").waitFor();
  assert.match(await measuring.answer(page), /with its digits swapped reads 97/);
  expectNoProblems(browser.problems);
});

test("without a server a length that is none is refused at the input", async () => {
  const { page } = browser;
  await openAlone(page, "ring_length");
  for (const [typed, why] of [["abc", /not a number/], ["0", /cannot be 0/], ["7 ft", /not a unit/]]) {
    assert.match(await measuring.refused(page, typed), why);
    assert.equal(await page.locator("#value").inputValue(), typed);
  }
});
