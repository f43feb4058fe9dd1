// Every page anybody reaches by links, at phone size: no violation of WCAG 2.2 A and AA that
// axe-core (Deque, from the npm registry) can find, nothing that scrolls sideways, nothing to tap
// that is smaller than 44 px (the house's bound; WCAG 2.2, 2.5.8 asks 24).
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { crawl } from "./crawl.js";
import { expectNoProblems, violations } from "./expect.js";
import { draftAndLay, signIn } from "./pages.js";
import { startServer } from "./server.js";

let server, browser, home;
const looked = [];

before(async () => {
  server = await startServer({ command: "demo" });
  browser = await openBrowser(phone);
  home = await signIn(browser.page, server.signIn);
  const production = await browser.page.locator("a[href^='/productions/']").first().getAttribute("href");
  await draftAndLay(browser.page, new URL(production, home).href);
  await crawl(browser.page, home, async (kind, page) => {
    looked.push({ kind, ...(await look(page)) });
    // German words are longer.
    await speak("de");
    await page.reload();
    const lang = await page.locator("html").getAttribute("lang");
    looked.push({ kind: `${kind} in ${lang}`, lang, found: [], ...(await shape(page)) });
    await speak("en");
  });
});

const speak = (language) => browser.context.addCookies([{ name: "language", value: language, url: home }]);

after(async () => {
  await browser?.close();
  await server?.stop();
});

async function look(page) {
  return { found: await violations(page), ...(await shape(page)) };
}

/** What scrolls sideways, what is too small to tap, and words left in English. */
function shape(page) {
  return page.evaluate(() => {
    const seen = (e) => e.checkVisibility() && e.getBoundingClientRect().width > 0;
    const small = [...document.querySelectorAll("button, a.button, input:not([type=hidden]), select, summary")]
      .filter(seen)
      .filter((e) => !e.closest(".hidden, .skip"))
      .map((e) => {
        const label = e.labels?.[0] && /radio|checkbox/.test(e.type) ? e.labels[0] : e;
        return { what: (e.innerText || e.name || e.id || e.tagName).trim().slice(0, 40), box: label.getBoundingClientRect() };
      })
      .filter(({ box }) => box.height < 43.5)
      .map(({ what, box }) => `${what} ${Math.round(box.width)} x ${Math.round(box.height)}`);
    // Drawings say what stands on paper; what the drafting itself remarks is marked as English.
    const apart = document.querySelectorAll("svg, [lang=en]:not(html)");
    apart.forEach((part) => { part.hidden = true; part.style.display = "none"; });
    const lines = document.body.innerText.split("\n").map((line) => line.trim());
    apart.forEach((part) => { part.hidden = false; part.style.display = ""; });
    return {
      sideways: document.documentElement.scrollWidth - document.documentElement.clientWidth,
      small: [...new Set(small)],
      english: [...new Set(lines.filter((line) => /\b(the|is|are|of|with|from|and|your|this)\b/.test(line)))],
    };
  });
}

test("the crawl reached the pages there are", () => {
  const kinds = looked.map((page) => page.kind);
  for (const kind of ["/", "/productions/:id", "/performers/:id", "/performers/:id/measure", "/performers/:id/draft/left",
    "/batches/:id/lay", "/performers/:id/next/right", "/performers/:id/fitting?side", "/fabrics/:id/memory"]) {
    assert.ok(kinds.includes(kind), `${kind} is not among ${kinds}`);
  }
});

test("axe finds no violation of WCAG 2.2 AA on any page", () => {
  assert.deepEqual(looked.filter((p) => p.found.length).map((p) => [p.kind, p.found]), []);
});

test("every page speaks German where German is asked for", () => {
  const german = looked.filter((p) => p.lang);
  assert.ok(german.length > 10 && german.every((p) => p.lang === "de"), String(german.map((p) => p.kind)));
  assert.deepEqual(german.filter((p) => p.english.length).map((p) => [p.kind, p.english]), []);
});

test("no page scrolls sideways on a phone of 360 px", () => {
  assert.deepEqual(looked.filter((p) => p.sideways > 0).map((p) => [p.kind, p.sideways]), []);
});

test("nothing to tap is lower than 44 px", () => {
  assert.deepEqual(looked.filter((p) => p.small.length).map((p) => [p.kind, p.small]), []);
});

test("no page had a script error or asked another host", () => {
  expectNoProblems(browser.problems);
});
