// Every page somebody signed in can reach by links, one of a kind: addresses that differ only in
// an id count as one page.

const id = /[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g;

/** The kind of page an address leads to: ids and query values left out. */
export function kindOf(address) {
  const url = new URL(address);
  const query = [...url.searchParams.keys()].sort().join("&");
  return url.pathname.replace(id, ":id") + (query ? `?${query}` : "");
}

/**
 * Visits each kind of page once, breadth first, and calls `look(kind, page)` on it.
 * Downloads and addresses that end a session are left out.
 */
export async function crawl(page, start, look, { limit = 60 } = {}) {
  const origin = new URL(start).origin;
  const seen = new Set();
  const queue = [start];
  const kinds = [];
  while (queue.length > 0 && kinds.length < limit) {
    const address = queue.shift();
    const kind = kindOf(address);
    if (seen.has(kind)) continue;
    seen.add(kind);
    if (/\.(pdf|svg|zip|csv|json|dxf|js|css|webmanifest)$|sign-out|\/static\//.test(kind.split("?")[0])) continue;
    const answer = await page.goto(address).catch((error) => {
      if (/ERR_ABORTED|Download is starting/.test(error.message)) return null;
      throw error;
    });
    if (!answer || !(answer.headers()["content-type"] ?? "").startsWith("text/html")) continue;
    kinds.push(kind);
    await look(kind, page, answer);
    const links = await page.$$eval("a[href]", (all) => all.map((a) => a.href));
    for (const link of links) {
      const clean = link.split("#")[0];
      if (clean.startsWith(origin + "/")) queue.push(clean);
    }
  }
  return kinds;
}
