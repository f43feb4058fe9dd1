// What the first visit to the measuring page costs on a slow line: bytes in all, headers included,
// and when the first value can be typed. Bytes are held to the budget; times are printed.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, phone } from "./browser.js";
import { addPerformer, addProduction, measuring, signIn } from "./pages.js";
import { startServer } from "./server.js";

/** All that the page loads on its first visit, bytes. */
const BUDGET = 60_000;
/** Slow 4G: 1.6 Mbit/s down, 750 kbit/s up, 150 ms there and back; a phone a quarter as fast. */
const line = { offline: false, latency: 150, downloadThroughput: 1.6e6 / 8, uploadThroughput: 750e3 / 8 };
const SLOWER = 4;

let server, browser, performer;

before(async () => {
  server = await startServer();
  const desk = await openBrowser(phone);
  await signIn(desk.page, server.signIn);
  await addProduction(desk.page, "The Salt Stair");
  performer = await addPerformer(desk.page, { code: "TW92", name: "Ottoline Fairweather" });
  await measuring.open(desk.page, performer, { side: "right", dimension: "hand_length" });
  await measuring.enter(desk.page, "180");
  const cookies = await desk.context.cookies();
  await desk.close();
  // Without the service worker, whose copies for later are no part of the page's first load.
  browser = await openBrowser({ ...phone, serviceWorkers: "block" });
  await browser.context.addCookies(cookies);
});

after(async () => {
  await browser?.close();
  await server?.stop();
});

test("the measuring page with the model and the checks loads within 60 kB", async () => {
  const { context, page } = browser;
  const cdp = await context.newCDPSession(page);
  const paths = new Map();
  const loaded = [];
  cdp.on("Network.responseReceived", ({ requestId, response }) => paths.set(requestId, new URL(response.url).pathname));
  cdp.on("Network.loadingFinished", ({ requestId, encodedDataLength }) => loaded.push([paths.get(requestId), encodedDataLength]));
  await cdp.send("Network.enable");
  await cdp.send("Network.emulateNetworkConditions", line);
  await cdp.send("Emulation.setCPUThrottlingRate", { rate: SLOWER });
  const inAll = () => loaded.reduce((sum, [, bytes]) => sum + bytes, 0);

  const start = performance.now();
  const model = page.waitForResponse((r) => new URL(r.url()).pathname === "/api/model");
  await page.goto(`${performer}/measure?side=right&step=palm_length`, { waitUntil: "commit" });
  await page.locator("#value").waitFor();
  const input = performance.now() - start;
  await page.locator("#step[data-ready=yes]").waitFor();
  const ready = performance.now() - start;
  // The checks come later, by themselves.
  const needed = new Set(loaded.map(([path]) => path).filter((path) => /^\/static\/([^/]+|model\/words)\.js$/.test(path) && path !== "/static/model.js"));
  const preloaded = await page.$$eval("link[rel=modulepreload]", (all) => all.map((a) => new URL(a.href).pathname));
  assert.deepEqual([...needed].filter((path) => !preloaded.includes(path)), [], "every module of the page is asked for at once");

  await (await model).finished();
  await page.waitForLoadState("networkidle");
  const paid = new Set(loaded.map(([path]) => path));
  for (const path of ["/api/model", "/static/model.js", "/static/model/words.js"]) {
    assert.ok(paid.has(path), `${path} is counted`);
  }
  console.log(`# ${(inAll() / 1000).toFixed(1)} kB in ${loaded.length} files; input after ${input.toFixed(0)} ms, its script after ${ready.toFixed(0)} ms`);
  const largest = [...loaded].sort((a, b) => b[1] - a[1]).map(([path, bytes]) => `${path} ${bytes}`).join("\n");
  assert.ok(inAll() < BUDGET, `${inAll()} bytes\n${largest}`);
});
