// The whole measuring flow by keyboard alone, and what a screen reader is told: names, roles, and
// flags that are announced. Focus never falls off the page.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { desktop, openBrowser } from "./browser.js";
import { expectNoProblems } from "./expect.js";
import { addPerformer, addProduction, measuring, signIn } from "./pages.js";
import { startServer } from "./server.js";

// Near the published means of women (Greiner 1991, Hsiao 2015), an invented hand.
const typical = {
  hand_length: 180, palm_length: 103, hand_breadth: 79, wrist_girth: 152, thumb_length: 64, index_length: 70,
  middle_length: 77, ring_length: 72, little_length: 57, hand_girth: 186, thumb_knuckle_girth: 63,
  index_knuckle_girth: 61, middle_knuckle_girth: 61, ring_knuckle_girth: 57, little_knuckle_girth: 51,
};

let server, browser, production, performer;

before(async () => {
  server = await startServer();
  browser = await openBrowser(desktop);
  await signIn(browser.page, server.signIn);
  production = await addProduction(browser.page, "The Salt Stair");
  performer = await addPerformer(browser.page, { code: "TW93", name: "Ottoline Fairweather" });
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

/** Who has the focus: role and name, as the accessibility tree tells them. */
async function focused(page) {
  const cdp = await page.context().newCDPSession(page);
  const { nodes } = await cdp.send("Accessibility.getFullAXTree");
  await cdp.detach();
  const is = (node) => node.properties?.some((p) => p.name === "focused" && p.value.value);
  const found = nodes.filter(is).filter((node) => node.role.value !== "RootWebArea");
  return found.length ? `${found.at(-1).role.value} ${found.at(-1).name?.value ?? ""}`.trim() : "nobody";
}

/** Presses Tab until the focus is on what is wanted. */
async function tabTo(page, wanted, key = "Tab") {
  const passed = [];
  for (let i = 0; i < 60; i += 1) {
    const who = await focused(page);
    if (wanted.test(who)) return;
    passed.push(who);
    await page.keyboard.press(key);
  }
  assert.fail(`${wanted} is not reached by ${key}: ${passed.join(" > ")}`);
}

const step = (page, name) => page.locator(`#step[data-step=${name}]`).waitFor();
const answered = (page) => page.waitForResponse((r) => new URL(r.url()).pathname === "/api/facts");

async function press(page, ...keys) {
  for (const key of keys) await page.keyboard.press(key);
}

/** Types a value where the focus is, and enters it. */
async function type(page, value) {
  const reply = answered(page);
  await page.keyboard.type(value);
  await page.keyboard.press("Enter");
  await reply;
}

test("from the board to the form, and the value has the focus with its name and its help", async () => {
  const { page } = browser;
  await page.goto(production);
  await tabTo(page, /^link Measure TW93$/);
  await press(page, "Enter");
  await page.waitForURL(/\/measure/);
  await page.locator("#step[data-ready=yes]").waitFor();
  await tabTo(page, /^textbox Value$/);
  const described = await page.locator("#value").evaluate((e) => (
    e.getAttribute("aria-describedby").split(" ").map((id) => document.getElementById(id).textContent).join(" ")));
  const where = await page.locator("#what").innerText();
  assert.ok(where.length > 20 && described.includes(where), `where the tape goes is read with the value: ${described}`);
});

test("a value is entered, repeated, taken on the other hand, undone and skipped with a reason", async () => {
  const { page } = browser;
  const first = await page.locator("#step").getAttribute("data-step");
  const value = typical[first];
  await type(page, String(value));
  await page.locator(`#step:not([data-step=${first}])`).waitFor();
  assert.match(await focused(page), /^textbox Value$/, "the next value can be typed at once");
  assert.equal(await page.locator("#name").getAttribute("aria-live"), "polite", "the new step is announced");

  await tabTo(page, /^button Repeat$/, "Shift+Tab");
  await press(page, "Enter");
  await step(page, first);
  await tabTo(page, /^textbox Value$/);
  await type(page, String(value + 1));
  await page.locator(`#step:not([data-step=${first}])`).waitFor();
  const { readings } = await measuring.state(page, performer);
  assert.deepEqual(readings.filter((r) => r.dimension === first).map((r) => r.mm), [value, value + 1]);

  await tabTo(page, /^link Swap hand, now Right hand/, "Shift+Tab");
  await press(page, "Enter");
  await page.locator("#step[data-side=left]").waitFor();
  assert.match(await focused(page), /^link Swap hand, now Left hand/);
  await tabTo(page, /^textbox Value$/);
  const here = await page.locator("#step").getAttribute("data-step");
  await type(page, String(typical[here]));
  await page.locator(`#step:not([data-step=${here}])`).waitFor();
  await tabTo(page, /^link Back$/);
  await press(page, "Enter");
  await step(page, here);
  await tabTo(page, /^button Undo$/, "Shift+Tab");
  const undone = answered(page);
  await press(page, "Enter");
  await undone;
  await page.getByRole("button", { name: "Undo" }).waitFor({ state: "detached" });
  assert.match(await focused(page), /^textbox Value$/, "the focus is not lost with the button");
  const after = await measuring.state(page, performer);
  assert.deepEqual(after.readings.filter((r) => r.side === "left"), []);

  await tabTo(page, /^button Skip$/);
  await press(page, "Enter");
  assert.match(await focused(page), /^button hurt or sore$/, "the reasons are at hand");
  const skipped = answered(page);
  await press(page, "Enter");
  await skipped;
  await page.locator(`#step:not([data-step=${here}])`).waitFor();
  assert.match(await focused(page), /^textbox Value$/);
  const { skipped: steps } = await measuring.state(page, performer);
  assert.deepEqual(steps, [["left", here]]);
});

test("a flag is announced, kept with a reason, and the way goes on", async () => {
  const { page } = browser;
  await measuring.open(page, performer, { side: "right", dimension: "hand_girth" });
  await tabTo(page, /^textbox Value$/);
  await type(page, "18.4");
  const flag = page.locator("#answer .flag");
  await flag.waitFor();
  const region = page.getByRole("status").filter({ hasText: "184 mm in centimetres reads 18.4" });
  assert.equal(await region.getAttribute("aria-live"), "polite");
  await tabTo(page, /^button Use 184 mm$/, "Shift+Tab");
  await tabTo(page, /^textbox Why is the value right\?$/);
  const kept = answered(page);
  await page.keyboard.type("a doll's hand");
  await press(page, "Enter");
  await kept;
  await flag.waitFor({ state: "detached" });
  assert.match(await focused(page), /^textbox Value$/);
  const { flags } = await measuring.state(page, performer);
  assert.deepEqual(flags.filter((one) => one.dimension === "hand_girth").map((one) => one.kept), ["a doll's hand"]);
  await tabTo(page, /^link Next$/);
  await press(page, "Enter");
  await page.locator("#step:not([data-step=hand_girth])").waitFor();
});

test("a refusal is an alert, and stays with the value that was typed", async () => {
  const { page } = browser;
  await tabTo(page, /^textbox Value$/, "Shift+Tab");
  await page.keyboard.type("abc");
  await press(page, "Enter");
  await page.getByRole("alert").filter({ hasText: "not a number" }).waitFor();
  assert.match(await focused(page), /^textbox Value$/);
  const value = page.locator("#value");
  assert.equal(await value.getAttribute("aria-invalid"), "true");
  assert.match(await value.getAttribute("aria-describedby"), /value-error/);
  assert.equal(await value.inputValue(), "abc");
});

test("units are a group of radio buttons, and fractions are keys with their names", async () => {
  const { page } = browser;
  await page.getByRole("radio", { name: "inch" }).focus();
  await press(page, "Space");
  for (const name of ["1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8", "/16", "Delete"]) {
    await page.locator("#keypad").getByRole("button", { name, exact: true }).waitFor();
  }
  await page.getByRole("group", { name: "Unit" }).waitFor();
});

test("no page on the way had a script error", () => {
  expectNoProblems(browser.problems);
});
