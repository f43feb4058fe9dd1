// What every page must be: answered, without a script error, without a request elsewhere.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";

export function expectOk(answer) {
  assert.ok(answer && answer.status() < 400, `${answer?.status()} ${answer?.url()}`);
}

export function expectNoProblems(problems) {
  assert.deepEqual(problems, [], "script errors, policy violations or requests to other hosts");
}

/** No page scrolls sideways on a phone. */
export async function expectNoSidewaysScroll(page, what) {
  const { wide, seen } = await page.evaluate(() => ({
    wide: document.documentElement.scrollWidth,
    seen: document.documentElement.clientWidth,
  }));
  assert.ok(wide <= seen, `${what} is ${wide} px wide on a screen of ${seen}`);
}

/** What axe-core finds on a page against WCAG 2.2 A and AA. */
export async function violations(page) {
  const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
  // The policy forbids inline scripts to the page; the debugger's own evaluation is not a script of it.
  const { violations } = await page.evaluate(async (source) => {
    (0, eval)(source);
    return window.axe.run(document, {
      runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
    });
  }, axe);
  return violations.map((v) => `${v.id} (${v.nodes.length}): ${v.nodes[0].html.slice(0, 160)}`);
}
