// Measuring at home, in the performer's own browser: a link shows that person's steps alone, takes
// values, and gives nothing back.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems, expectNoSidewaysScroll } from "./expect.js";
import { addPerformer, addProduction, measuring, signIn } from "./pages.js";
import { startServer } from "./server.js";

let server, workshop, home, performer, link;

before(async () => {
  server = await startServer();
  workshop = await openBrowser(phone);
  await signIn(workshop.page, server.signIn);
  await addProduction(workshop.page, "The Salt Stair");
  performer = await addPerformer(workshop.page, { code: "TW96", name: "Ottoline Fairweather" });
  home = await openBrowser({ ...phone, locale: "de" });
});

after(async () => {
  await home?.close();
  await workshop?.close();
  await server?.stop();
});

test("the workshop makes a link for one person, days and uses stated", async () => {
  const { page } = workshop;
  await page.goto(performer);
  await page.getByRole("link", { name: "Measuring at home" }).click();
  await page.getByLabel("Days it is valid").fill("3");
  await page.getByLabel("How often it may be used").fill("1");
  await page.getByRole("button", { name: "Make a link" }).click();
  link = (await page.locator("code").first().innerText()).trim();
  assert.match(link, /\/home\//);
});

test("at home values are taken in the performer's language, one step after the other", async () => {
  const { page } = home;
  await page.goto(new URL(new URL(link).pathname, server.origin).href);
  await expectNoSidewaysScroll(page, "the page of the link");
  await page.getByRole("button", { name: "Beginnen" }).tap();
  await page.locator("#step[data-step=hand_length]").waitFor();
  await expectNoSidewaysScroll(page, "a step at home");
  await page.locator("#value").fill("18,7 cm");
  await page.locator("#value").press("Enter");
  await page.getByRole("status").filter({ hasText: "Danke" }).waitFor();
  await page.locator("#step[data-step=palm_length]").waitFor();
  await page.locator("#value").fill("abc");
  await page.locator("#value").press("Enter");
  await page.getByRole("alert").filter({ hasText: "„abc“ ist keine Zahl" }).waitFor();
  assert.equal(await page.locator("#value").inputValue(), "abc");
  const text = await page.locator("body").innerText();
  assert.ok(!/18,7|187|Fairweather/.test(text), `nothing is read back: ${text}`);
});

test("the visit opens nothing else, and a link that is used up opens nothing", async () => {
  const { page, context } = home;
  const { origin } = server;
  const id = performer.split("/").pop();
  for (const path of [`/api/performers/${id}`, `/api/productions/${id}/pack`]) {
    assert.equal((await context.request.get(origin + path)).status(), 401, path);
  }
  await page.goto(performer);
  assert.match(page.url(), /\/sign-in/);
  const stranger = await openBrowser(phone);
  try {
    await stranger.page.goto(link);
    await stranger.page.getByText("This link is no longer valid").waitFor();
    assert.equal(await stranger.page.getByRole("button", { name: "Begin" }).count(), 0);
  } finally {
    await stranger.close();
  }
});

test("the workshop sees who took it, and counts it for less than its own", async () => {
  const state = await measuring.state(workshop.page, performer);
  assert.deepEqual(state.readings.map((r) => [r.dimension, r.mm, r.origin]), [["hand_length", 187, "self"]]);
  const width = ({ hands }) => {
    const { low_mm: low, high_mm: high } = hands.find((one) => one.side === "right" && one.dimension === "hand_length");
    return high - low;
  };
  const atHome = width(state);
  await measuring.open(workshop.page, performer, { side: "right", dimension: "hand_length" });
  await measuring.enter(workshop.page, "181");
  const measured = await measuring.state(workshop.page, performer);
  assert.ok(width(measured) < atHome / 2, `${width(measured)} mm after ${atHome} mm`);
  const { mm } = measured.hands.find((one) => one.side === "right" && one.dimension === "hand_length");
  assert.ok(Math.abs(mm - 181) < 1, `${mm}: the workshop's reading takes the place of the other`);
});

test("no page on the way had a script error or asked another host", () => {
  expectNoProblems(home.problems);
  expectNoProblems(workshop.problems);
});
