// Screenshots of every kind of page of the demo company, at phone and desktop size, into a folder
// outside the repository: node shots.js FOLDER
import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { openBrowser, phone, desktop } from "./browser.js";
import { crawl } from "./crawl.js";
import { startServer } from "./server.js";
import { signIn } from "./pages.js";

const folder = process.argv[2];
if (!folder) throw new Error("name the folder: node shots.js FOLDER");
await mkdir(folder, { recursive: true });
const server = await startServer({ command: "demo" });
try {
  for (const [size, screen] of Object.entries({ phone, desktop })) {
    const { page, close } = await openBrowser(screen);
    const home = await signIn(page, await server.freshLink());
    await crawl(page, home, async (kind) => {
      const name = kind.replace(/[^a-z0-9]+/gi, "-").replace(/^-|-$/g, "") || "home";
      await page.screenshot({ path: join(folder, `${size}-${name}.png`), fullPage: size === "desktop" });
      console.log(size, kind);
    });
    await close();
  }
} finally {
  await server.stop();
}
