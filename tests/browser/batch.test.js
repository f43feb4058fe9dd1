// The supervisor's screen: a batch for the whole company, its progress, its ZIP.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { after, before, test } from "node:test";
import { desktop, openBrowser } from "./browser.js";
import { expectNoProblems } from "./expect.js";
import { signIn } from "./pages.js";
import { startServer } from "./server.js";

let server, browser;

before(async () => {
  server = await startServer({ command: "demo" });
  browser = await openBrowser(desktop);
  await signIn(browser.page, server.signIn);
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

test("the board shows the whole company with its flags", async () => {
  const { page } = browser;
  await page.getByRole("link", { name: /The Salt Stair/ }).click();
  await page.locator("#roster tbody tr").first().waitFor();
  assert.ok((await page.locator("#roster tbody tr").count()) >= 24);
  const flagged = page.locator("#roster tr", { hasText: "TW01" });
  assert.match(await flagged.innerText(), /⚠/);
});

test("a batch runs with its progress on the page and ends in a ZIP of drafts and lists", async () => {
  const { page } = browser;
  await page.locator("a[href$='/batches']").click();
  const states = [];
  page.on("response", async (response) => {
    if (/\/api\/batches\//.test(response.url()) && response.ok()) {
      states.push(await response.json().catch(() => null));
    }
  });
  await page.locator("form[action$='/batches'] button").click();
  const zip = page.locator("a[href$='gloves.zip']").first();
  await zip.waitFor({ timeout: 120_000 });
  const known = states.filter(Boolean);
  assert.ok(known.length > 0, "the page never asked how far the batch is");
  const arriving = page.waitForEvent("download");
  await zip.click();
  const path = await (await arriving).path();
  const names = execFileSync("python3", ["-c", "import sys, zipfile\nz = zipfile.ZipFile(sys.argv[1])\nassert z.testzip() is None\nprint('\\n'.join(z.namelist()))", path])
    .toString()
    .trim()
    .split("\n");
  for (const clean of ["TW05", "TW09", "TW18", "TW24", "TW27"]) {
    for (const side of ["left", "right"]) {
      for (const kind of ["pdf", "svg"]) {
        const wanted = new RegExp(`^${clean}-${side}-v\\w+\\.${kind}$`);
        assert.ok(names.some((name) => wanted.test(name)), `${clean} ${side} ${kind}`);
      }
    }
  }
  assert.ok(names.includes("cut-list.csv") && names.includes("attention.csv"), names.join(" "));
  assert.ok(names.every((name) => /^[\w.-]+$/.test(name)), "names are safe on every system");
});

test("no page on the way had a script error or asked another host", () => {
  expectNoProblems(browser.problems);
});
