// One headless Chromium with a fresh profile, and the two screens people use.
import { chromium } from "playwright-core";
import { mkdtemp, rm } from "node:fs/promises";
import { networkInterfaces, tmpdir } from "node:os";
import { join } from "node:path";

/** When a wait counts as hung. Speed is measured by the benchmarks, not here. */
export const PATIENCE_MS = 60_000;

const args = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
  "--no-first-run",
];

/** The smallest phone we promise to serve, with touch. */
export const phone = { viewport: { width: 360, height: 640 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 };
/** A desktop screen. */
export const desktop = { viewport: { width: 1280, height: 800 } };

/**
 * Opens a browser with the given screen. `close` ends it and removes its profile, unless the
 * profile is the caller's, to be opened again. `env` is added to the environment.
 */
export async function openBrowser(screen, kept, env) {
  const profile = kept ?? (await mkdtemp(join(tmpdir(), "handcall-profile-")));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    headless: true,
    args,
    acceptDownloads: true,
    locale: "en-GB",
    ...(env && { env: { ...process.env, ...env } }),
    ...screen,
  });
  context.setDefaultTimeout(PATIENCE_MS);
  const page = context.pages()[0] ?? (await context.newPage());
  const problems = [];
  watch(page, problems);
  context.on("page", (other) => watch(other, problems));
  return {
    context,
    page,
    /** Errors of scripts and requests to other hosts seen so far. */
    problems,
    close: async () => {
      await context.close();
      if (!kept) await rm(profile, { recursive: true, force: true, maxRetries: 5 });
    },
  };
}

/** Names of this machine: `serve --lan` listens on all of its addresses. */
const own = new Set(["localhost", ...Object.values(networkInterfaces()).flat().map(({ address }) => address)]);

function watch(page, problems) {
  page.on("pageerror", (error) => problems.push(`script error: ${error.message}`));
  page.on("console", (message) => {
    if (message.type() === "error" && /Content Security Policy|Refused to/.test(message.text())) {
      problems.push(`policy: ${message.text()}`);
    }
  });
  page.on("request", (request) => {
    const url = new URL(request.url());
    if (url.protocol.startsWith("http") && !own.has(url.hostname)) {
      problems.push(`request to another host: ${url.host}`);
    }
  });
}
