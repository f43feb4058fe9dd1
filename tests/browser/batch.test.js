// The supervisor's screen: a batch for the whole company, its progress, its ZIP.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { after, before, test } from "node:test";
import { desktop, openBrowser, PATIENCE_MS } from "./browser.js";
import { expectNoProblems } from "./expect.js";
import { addProduction, importRoster, signIn } from "./pages.js";
import { startServer } from "./server.js";

/** A roster of invented hands: the published medians of women (Greiner 1991), a little scattered. */
function castOf(count) {
  const lines = ["code,reference,hand_length,hand_girth,middle_length"];
  for (let at = 1; at <= count; at += 1) {
    const size = 1 + ((at % 9) - 4) / 100;
    const mm = (mean) => Math.round(mean * size);
    lines.push(`P${String(at).padStart(3, "0")},women,${mm(181)},${mm(187)},${mm(78)}`);
  }
  return lines.join("\n") + "\n";
}

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

test("a batch of 200 runs with its progress on the page and ends in a ZIP of drafts and lists", async () => {
  const { page } = browser;
  const home = new URL("/", page.url()).href;
  await addProduction(page, "Two hundred");
  await importRoster(page, castOf(200));
  await page.goto(home);
  await page.getByRole("link", { name: /Two hundred/ }).click();
  await page.locator("a[href$='/batches']").first().click();
  await page.getByRole("button", { name: "Start", exact: true }).click();
  const zip = page.locator("a[href$='gloves.zip']").first();
  const seen = new Set();
  const ends = Date.now() + 10 * PATIENCE_MS;
  while (!(await zip.isVisible())) {
    assert.ok(Date.now() < ends, "the batch does not end");
    for (const bar of await page.locator("progress").all()) {
      const share = await bar.evaluate((b) => (b.max ? b.value / b.max : 0)).catch(() => null);
      if (share !== null) seen.add(share);
    }
    await page.waitForTimeout(50);
  }
  const between = [...seen].filter((share) => share > 0 && share < 1);
  assert.ok(between.length > 0, `no progress was to be seen on the page: ${[...seen]}`);
  const arriving = page.waitForEvent("download");
  await zip.click();
  const path = await (await arriving).path();
  const names = execFileSync("python3", ["-c", "import sys, zipfile\nz = zipfile.ZipFile(sys.argv[1])\nassert z.testzip() is None\nprint('\\n'.join(z.namelist()))", path])
    .toString()
    .trim()
    .split("\n");
  for (const clean of ["P001", "P100", "P200"]) {
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
