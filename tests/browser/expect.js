// What every page must be: answered, without a script error, without a request elsewhere.
import assert from "node:assert/strict";

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
