// Screenshots of every kind of page of the demo company, at phone and desktop size, into a folder
// outside the repository: node shots.js FOLDER [LANGUAGE]
import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { desktop, openBrowser, phone } from "./browser.js";
import { crawl } from "./crawl.js";
import { draftAndLay, signIn } from "./pages.js";
import { startServer } from "./server.js";

const folder = process.argv[2];
const locale = process.argv[3] ?? "en-GB";
if (!folder) throw new Error("name the folder: node shots.js FOLDER [LANGUAGE]");
await mkdir(folder, { recursive: true });
for (const [size, screen] of Object.entries({ phone, desktop })) {
  const server = await startServer({ command: "demo" });
  const { page, close } = await openBrowser({ ...screen, locale });
  try {
    const home = await signIn(page, server.signIn);
    const production = await page.locator("a[href^='/productions/']").first().getAttribute("href");
    await draftAndLay(page, new URL(production, home).href);
    await crawl(page, home, async (kind) => {
      const name = kind.replace(/[^a-z0-9]+/gi, "-").replace(/^-|-$/g, "") || "home";
      await page.screenshot({ path: join(folder, `${size}-${name}.png`), fullPage: true });
      console.log(size, kind);
    });
  } finally {
    await close();
    await server.stop();
  }
}
