// A cutter pulls a strip of cloth at the table, and drafts with what it says: a gauntlet joined to
// a sleeve, printed. What cannot be is refused at its input, and nothing typed is lost.
import { after, before, test } from "node:test";
import assert from "node:assert/strict";
import { openBrowser, phone } from "./browser.js";
import { addPerformer, addProduction, drafting, signIn } from "./pages.js";
import { startServer } from "./server.js";

let server, page, close, problems, production, performer;

before(async () => {
  server = await startServer({ command: "serve" });
  ({ page, close, problems } = await openBrowser(phone));
  await signIn(page, server.signIn);
  production = await addProduction(page, "The Glass Harbour");
  performer = await addPerformer(page, { code: "G1", name: "Ada Voss" });
});

after(async () => {
  await close?.();
  await server?.stop();
});

/** What is in the inputs of the page's form, by name. */
const inputs = (form) =>
  page.locator(form).evaluate((all) => Object.fromEntries(new FormData(all)));

/** Sends a form and gives the input it was refused at, with what is said there. */
async function refusal(form) {
  await page.locator(form).locator("button.main").tap();
  const wrong = page.locator(`${form} [aria-invalid=true]`);
  await wrong.waitFor();
  const field = await wrong.getAttribute("name");
  const words = await page.locator(`#${await wrong.getAttribute("aria-describedby")}`).innerText();
  assert.ok(await wrong.evaluate((one) => one === document.activeElement), `${field} has the focus`);
  return { field, words };
}

/** The cells of a table row that begins with these words. */
const row = async (words) =>
  (await page.getByRole("row", { name: words }).first().getByRole("cell").allInnerTexts()).map((t) => t.trim());

const fabricForm = "form:has(#mass_0)";
const pull = { mass_0: "300", loaded_0: "140", released_0: "102" };

test("an impossible stretch test is refused at its input and nothing typed is lost", async () => {
  await page.goto(`${production}/fabrics`);
  await page.getByRole("link", { name: "Add a fabric" }).tap();
  await page.locator("#name").fill("Kelp <firm> knit");
  await page.locator("#note").fill("bolt 3");
  await page.locator("#latex").selectOption("yes");
  for (const [wrong, field, words] of [
    [{ mass_0: "0" }, "mass_0", /0 g/],
    [{ loaded_0: "90" }, "loaded_0", /90 mm/],
    [{ released_0: "150" }, "released_0", /150 mm/],
    [{ before_0: "" }, "before_0", /number/],
    [{ limit_fingers: "60" }, "limit_fingers", /1 to 25/],
  ]) {
    const filled = { before_0: "100", limit_fingers: "6", ...pull, ...wrong };
    for (const [name, value] of Object.entries(filled)) await page.locator(`#${name}`).fill(value);
    const said = await refusal(fabricForm);
    assert.equal(said.field, field);
    assert.match(said.words, words);
    const kept = await inputs(fabricForm);
    for (const [name, value] of Object.entries(filled)) assert.equal(kept[name], value, name);
    assert.equal(kept.name, "Kelp <firm> knit");
    assert.equal(kept.note, "bolt 3");
    assert.equal(kept.latex, "yes");
  }
});

// By hand: 300 g on 50 mm is 58.86 N/m, at 40 %; 60 % of 40 % is 24 %, where it is 35.3 N/m. Of 24 %
// a finger would wear 18 %, 4.3 %; but 6 mmHg on a finger of 45 mm is 5.7 N/m, that is 3.9 %.
test("a stretch test gives stretch, tension, recovery, and ease within the pressure limits", async () => {
  await page.locator("#limit_fingers").fill("6");
  await page.locator("#by_1").selectOption("hand");
  await page.locator("#loaded_1").fill("125");
  await page.locator("#released_1").fill("101");
  await page.locator(fabricForm).locator("button.main").tap();
  await page.waitForURL(/\/fabrics\/[0-9a-f-]{36}$/);
  assert.equal(await page.locator("h1").innerText(), "Kelp <firm> knit version 1");
  const figures = await page.locator(".figures").innerText();
  for (const figure of ["24 %", "15 %", "2 %", "35 N/m"]) assert.ok(figures.includes(figure), `${figure} in ${figures}`);
  assert.match(await page.locator("main").innerText(), /natural rubber latex, which sensitises/);
  assert.equal(await page.locator("figure svg").count(), 1);
  const [, smaller, stretch, pressure] = await row("slimmest finger");
  assert.ok(Number(smaller) > 2 && Number(smaller) < 4, smaller);
  assert.ok(Number(stretch) >= Number(smaller), stretch);
  assert.match(pressure, /^⚠/);
  const [value, limit] = pressure.replace("⚠", "").split("/").map(Number);
  assert.ok(value > 5 && value <= limit && limit === 6, pressure);
  await page.locator("#note").fill("bolt 4");
  await page.locator(fabricForm).locator("button.main").tap();
  await page.getByText("version 2").first().waitFor();
  await page.getByRole("button", { name: /Give it to everybody/ }).tap();
  await page.getByText("G1", { exact: true }).waitFor();
});

const options = "form:has(#cuff)";

test("a gauntlet joined to a sleeve is drafted with the fabric, kept, and printed", async () => {
  await drafting.open(page, performer, "right");
  const before = Number((await row("wrist"))[1]);
  assert.ok(before > 0);
  const drafted = await row("palm");
  assert.ok(drafted.length > 0);
  assert.ok(!(await page.locator("#gauntlet_length").isVisible()));
  await page.locator("#cuff").selectOption("gauntlet");
  await page.locator("#bottom").selectOption("sleeve");
  await page.locator("#allowance").fill("4");
  const said = await refusal(options);
  assert.equal(said.field, "sleeve");
  assert.equal((await inputs(options)).cuff, "gauntlet");
  assert.equal((await inputs(options)).allowance, "4");
  await page.locator("#sleeve").fill("130");
  await page.locator("#gauntlet_length").fill("900");
  assert.equal((await refusal(options)).field, "gauntlet_length");
  await page.locator("#gauntlet_length").fill("120");
  await page.locator(options).locator("button.main").tap();
  await page.locator(".paper svg").first().waitFor();
  assert.match(page.url(), /sleeve=130/);
  await page.getByRole("button", { name: "Keep for G1" }).tap();
  await page.waitForURL((url) => url.search === "");
  const kept = await inputs(options);
  assert.deepEqual([kept.cuff, kept.bottom, kept.sleeve, kept.gauntlet_length, kept.allowance], ["gauntlet", "sleeve", "130", "120", "4"]);
  const { name, bytes } = await drafting.download(page);
  assert.match(name, /^G1-right-trial\.pdf$/);
  assert.equal(bytes.subarray(0, 5).toString(), "%PDF-");
});

test("a long glove asks for the forearm, and in a batch says who lacks it", async () => {
  await page.goto(`${performer}/draft/right`);
  await page.getByRole("button", { name: /Forget/ }).tap();
  await page.waitForLoadState();
  await page.locator("#cuff").selectOption("long");
  assert.equal((await refusal(options)).field, "forearm");
  const another = async () => {
    await page.goto(`${production}/batches`);
    await page.locator("summary").filter({ hasText: "What is drafted" }).tap();
    await page.locator("#cuff").selectOption("long");
    await page.locator("[name^=for-]").selectOption("draft");
    await page.getByRole("button", { name: "Start" }).tap();
  };
  await page.goto(`${performer}/measure?side=right&step=hand_length`);
  await page.locator("#step[data-ready=yes]").waitFor();
  await page.locator("#value").fill("181");
  const answered = page.waitForResponse((r) => new URL(r.url()).pathname === "/api/facts");
  await page.locator("#keep").tap();
  await answered;
  await another();
  const wrong = page.locator("#cuff[aria-invalid=true]");
  await wrong.waitFor();
  assert.match(await page.locator("#cuff-error").innerText(), /G1/);
  assert.equal(await wrong.inputValue(), "long");
  await page.goto(`${performer}/draft/right?cuff=long&forearm=250`);
  await page.getByRole("button", { name: "Keep for G1" }).tap();
  await page.waitForURL((url) => url.search === "");
  await another();
  await page.locator("[data-batch]").first().waitFor();
  assert.deepEqual(problems, []);
});
