// Readings taken without signal: kept on the phone, sent in order when there is a connection, each
// stored once, whatever happens in between. Without signal is a server that does not answer: that
// reaches the service worker too, which the browser's own switch does not.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { mkdtemp, readFile, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems } from "./expect.js";
import { addPerformer, addProduction, measuring, onDevice, signIn, until } from "./pages.js";
import { startServer } from "./server.js";

const dimensions = [
  "hand_length", "palm_length", "hand_breadth", "hand_girth", "wrist_girth", "thumb_length",
  "index_length", "middle_length", "ring_length", "little_length", "thumb_knuckle_girth",
  "index_knuckle_girth", "middle_knuckle_girth", "ring_knuckle_girth", "little_knuckle_girth",
];
// Near the published means of women (Greiner 1991, Hsiao 2015), invented hands.
const typical = [180, 103, 79, 186, 152, 64, 70, 77, 72, 57, 63, 61, 61, 57, 51];

let server, browser, production, profile;
const performers = [];

before(async () => {
  server = await startServer();
  profile = await mkdtemp(join(tmpdir(), "handcall-kept-"));
  browser = await openBrowser(phone, profile);
  const { page } = browser;
  await signIn(page, server.signIn);
  production = await addProduction(page, "The Paper Harbour");
  for (const code of ["PH01", "PH02"]) performers.push(await addPerformer(page, { code, name: "" }));
  await page.goto(production);
  await page.locator("#ready", { hasText: "✓" }).waitFor();
  await known(page, 2);
});

after(async () => {
  await browser?.close();
  await server?.stop();
  await rm(profile, { recursive: true, force: true, maxRetries: 5 });
});

/** Waits until the phone knows this many people. */
const known = (page, count) => until(
  () => page.evaluate(async () => (await (await import("/static/device.js")).people()).length),
  (people) => people >= count,
  `${count} people are known`,
);

async function take(page, performer, side, values) {
  for (const [i, value] of values.entries()) {
    await page.goto(`${performer}/measure?side=${side}&step=${dimensions[i]}`);
    await page.locator(`#step[data-step=${dimensions[i]}][data-ready=yes]`).waitFor();
    await page.locator("#value").fill(String(value));
    await page.locator("#keep").tap();
    await page.locator("#answer", { hasText: "Kept" }).waitFor();
  }
}

test("two performers are measured without signal, and the phone says what waits", async () => {
  const { page } = browser;
  await server.kill();
  await take(page, performers[0], "right", typical.slice(0, 4));
  await take(page, performers[1], "left", typical.slice(0, 3));
  assert.match(await page.locator("#waiting").innerText(), /7 entries wait on this device/);
});

test("what waits survives closing the browser, and can be saved as a file", async () => {
  await browser.close();
  browser = await openBrowser(phone, profile);
  const { page } = browser;
  await page.goto(`${performers[0]}/measure?side=right&step=hand_length`);
  await page.locator("#step[data-ready=yes]").waitFor();
  assert.match(await page.locator("#waiting").innerText(), /7 entries wait/);
  assert.match(await measuring.answer(page), /180 mm/, "the reading taken before shows at its step");
  const download = page.waitForEvent("download");
  await page.locator("#waiting").getByRole("button", { name: "Save as file" }).tap();
  const file = await download;
  assert.equal(file.suggestedFilename(), "handcall-waiting.json");
  const saved = JSON.parse(await readFile(await file.path(), "utf8"));
  assert.deepEqual(saved.map((entry) => entry.fact), await onDevice.facts(page), "the file holds all that waits");
  await page.goto(production);
  await page.locator("#known").getByText("PH02").waitFor();
});

test("with a connection everything is stored once, in the order it was taken", async () => {
  const { page } = browser;
  const kept = await onDevice.facts(page);
  server = await server.again();
  await page.goto(production);
  await onDevice.holds(page, 0);
  for (const [performer, side] of [[performers[0], "right"], [performers[1], "left"]]) {
    const { readings } = await measuring.state(page, performer);
    const mine = kept.filter((fact) => performer.endsWith(fact.performer));
    assert.deepEqual(readings.map((reading) => reading.id), mine.map((fact) => fact.id));
    assert.ok(readings.every((reading) => reading.side === side));
  }
  assert.equal(await page.locator("#waiting").isVisible(), false);
});

test("a server killed in the middle of a batch loses and doubles nothing", async () => {
  const { page } = browser;
  await server.kill("SIGKILL");
  for (const performer of performers) {
    for (const side of ["left", "right"]) await take(page, performer, side, typical);
  }
  const kept = await onDevice.facts(page);
  assert.equal(kept.length, 60);
  server = await server.again();
  const hit = page.waitForRequest((request) => request.url().endsWith("/api/facts"));
  await page.evaluate(() => dispatchEvent(new Event("online")));
  await hit;
  await server.kill("SIGKILL");
  server = await server.again();
  await page.evaluate(() => dispatchEvent(new Event("online")));
  await onDevice.holds(page, 0);
  const stored = [];
  for (const performer of performers) stored.push(...(await measuring.state(page, performer)).readings);
  const ids = stored.map((reading) => reading.id);
  assert.equal(new Set(ids).size, ids.length, "a reading is stored twice");
  for (const fact of kept) assert.ok(ids.includes(fact.id), `${fact.dimension} is lost`);
  assert.equal(ids.length, 7 + 60);
});

test("what is kept while a run of sending ends is sent by it", async () => {
  const { page } = browser;
  await page.goto(production);
  await onDevice.holds(page, 0);
  const result = await page.evaluate(async (performer) => {
    const { keepFacts, noted } = await import("/static/device.js");
    const { uuid7 } = await import("/static/api.js");
    const { onQueueChange, sync } = await import("/static/queue.js");
    const account = await noted("account");
    const fact = {
      fact: "reading", id: uuid7(), performer, side: "right", dimension: "index_tip_girth",
      value: "48", unit: "mm", taken_ms: Date.now(),
    };
    // The run has seen that nothing waits, and says so: it has not ended yet.
    const late = new Promise((done) => {
      let isFirst = true;
      onQueueChange(() => {
        if (!isFirst) return;
        isFirst = false;
        keepFacts(account, [fact]);
        done(sync());
      });
    });
    await sync();
    const { status, states } = await late;
    return { status, isStored: states.some((state) => state.readings.some((reading) => reading.id === fact.id)) };
  }, performers[0].split("/").pop());
  assert.deepEqual(result, { status: "sent", isStored: true });
  assert.equal((await onDevice.facts(page)).length, 0);
});

test("readings wait for the person who took them when the sign-in has run out", async () => {
  const { page, context } = browser;
  await context.clearCookies();
  await page.goto(`${performers[0]}/measure?side=right&step=thumb_web_height`).catch(() => {});
  assert.match(page.url(), /\/sign-in/);
  await page.goto(new URL("/shell/measure", production).href);
  await page.evaluate(async (performer) => {
    const { keepFacts, noted } = await import("/static/device.js");
    const { uuid7 } = await import("/static/api.js");
    const { sync } = await import("/static/queue.js");
    await keepFacts(await noted("account"), [{
      fact: "reading", id: uuid7(), performer, side: "right", dimension: "thumb_web_height",
      value: "62", unit: "mm", taken_ms: Date.now(),
    }]);
    await sync();
  }, performers[0].split("/").pop());
  assert.equal((await onDevice.facts(page)).length, 1);
  await page.locator("#waiting").getByRole("link", { name: "Sign in to send" }).waitFor();
  await signIn(page, server.signIn);
  await onDevice.holds(page, 0);
  const { readings } = await measuring.state(page, performers[0]);
  assert.equal(readings.filter((reading) => reading.dimension === "thumb_web_height").length, 1);
});

test("two phones on one performer never overwrite each other, and the board hears of it", async () => {
  await server.kill();
  server = await server.again();
  const other = await openBrowser(phone);
  try {
    await signIn(other.page, server.signIn);
    // Where a network lets no events through, the board asks.
    const asking = await browser.context.newPage();
    await asking.addInitScript(() => { delete window.EventSource; });
    await asking.goto(production);
    await browser.page.goto(production);
    const row = browser.page.locator(`tr[data-id="${performers[1].split("/").pop()}"] [data-cell=measured]`);
    const before = await row.innerText();
    await take(other.page, performers[1], "right", [181]);
    for (const board of [browser.page, asking]) {
      await board.waitForFunction(() => document.querySelector("#roster").textContent.includes("being measured by"));
    }
    await asking.close();
    assert.equal(await row.innerText(), before, "a repeat measures no further dimension");
    const { readings } = await measuring.state(other.page, performers[1]);
    const lengths = readings.filter((r) => r.side === "right" && r.dimension === "hand_length");
    assert.deepEqual(lengths.map((r) => r.mm), [180, 181]);
    expectNoProblems(other.problems);
  } finally {
    await other.close();
  }
});
