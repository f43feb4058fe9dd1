// `handcall serve --lan` in a browser that trusts the local authority, and in one that does not. The
// first is a fresh profile whose certificate store (NSS, as Chromium on Linux reads it) was given the
// certificate that the page of trust hands out.
import assert from "node:assert/strict";
import { execFile } from "node:child_process";
import { createHash } from "node:crypto";
import { after, before, test } from "node:test";
import { mkdir, mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";
import { openBrowser, phone } from "./browser.js";
import { expectNoProblems } from "./expect.js";
import { addPerformer, addProduction, measuring, signIn } from "./pages.js";
import { startServer } from "./server.js";

const certutil = promisify(execFile).bind(null, "certutil");

let server, wary, trusting, home;

before(async () => {
  server = await startServer({ args: ["--lan"] });
  wary = await openBrowser({ ...phone, ignoreHTTPSErrors: true });
  await signIn(wary.page, server.signIn);
  home = await mkdtemp(join(tmpdir(), "handcall-home-"));
});

after(async () => {
  await trusting?.close();
  await wary?.close();
  await server?.stop();
  if (home) await rm(home, { recursive: true, force: true, maxRetries: 5 });
});

test("the page of trust names the certificate by the figures that the server printed", async () => {
  const { page, context } = wary;
  await page.goto(`${server.origin}/trust`);
  const shown = (await page.locator("code").innerText()).trim();
  assert.match(server.log(), new RegExp(shown), "the same figures stand where the server was started");
  const answer = await context.request.get(new URL(await page.getByRole("link", { name: "Get the certificate" }).getAttribute("href"), server.origin).href);
  assert.equal(answer.headers()["content-type"], "application/x-x509-ca-cert");
  const der = await answer.body();
  const figures = createHash("sha256").update(der).digest("hex").toUpperCase().match(/../g).join(":");
  assert.equal(figures, shown);
  for (const system of ["iPhone, iPad", "Android"]) await page.getByRole("heading", { name: system }).waitFor();
  const store = join(home, ".pki", "nssdb");
  await mkdir(store, { recursive: true });
  await writeFile(join(home, "authority.crt"), der);
  await certutil(["-d", `sql:${store}`, "-N", "--empty-password"]);
  await certutil(["-d", `sql:${store}`, "-A", "-t", "C,,", "-n", "Handcall", "-i", join(home, "authority.crt")]);
});

test("without trust a reading is kept online, and the board says what is missing and where to get it", async () => {
  const { page } = wary;
  const production = await addProduction(page, "The Glass Ferry");
  const performer = await addPerformer(page, { code: "GF01", name: "" });
  await page.goto(production);
  await page.locator("#ready", { hasText: "⚠" }).waitFor();
  assert.match(await page.locator("#ready").innerText(), /Does not work without signal here/);
  assert.equal(new URL(await page.locator("#ready a").getAttribute("href"), server.origin).pathname, "/trust");
  await measuring.open(page, performer, { side: "right", dimension: "hand_length" });
  const { results } = await measuring.enter(page, "181");
  assert.equal(results[0].state, "kept");
  const { readings } = await measuring.state(page, performer);
  assert.deepEqual(readings.map((reading) => reading.mm), [181]);
});

test("with trust there is no warning, and the phone works without signal", async () => {
  trusting = await openBrowser(phone, undefined, { HOME: home });
  const { page } = trusting;
  const cookies = await wary.context.cookies();
  await trusting.context.addCookies(cookies);
  const answer = await page.goto(server.origin);
  assert.equal(answer.status(), 200);
  assert.equal((await answer.securityDetails()).issuer, "Handcall workshop authority");
  await page.getByRole("link", { name: /The Glass Ferry/ }).click();
  await page.locator("#ready", { hasText: "✓" }).waitFor();
  await page.locator("#roster").getByRole("link", { name: "GF01", exact: true }).waitFor();
  await server.kill();
  await page.reload();
  await page.getByRole("heading", { name: "Without signal" }).waitFor();
  expectNoProblems(trusting.problems);
});
