// Keeps the shell of the measuring form on the device. Pages about people are never cached: what a
// phone knows of them is in IndexedDB, and what waits there is no concern of this file.
const PREFIX = "handcall-";
const CACHE = PREFIX + "{{version}}";
const FILES = {{files}};
const SHELLS = ["/shell/measure", "/shell/roster", "/shell/fitting"];
// The one file that changes with the workshop: the model may learn from its own hands.
const MODEL = "/api/model";
const MODEL_PATIENCE_MS = 1000;
const PATIENCE_MS = 4000;

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(CACHE);
    await cache.addAll([...FILES, ...SHELLS].map((path) => new Request(path, { cache: "reload" })));
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith(PREFIX) && name !== CACHE) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (request.mode === "navigate") {
    event.respondWith(page(request, url));
  } else if (FILES.includes(url.pathname)) {
    event.respondWith(file(request, url));
  }
});

async function file(request, url) {
  const cache = await caches.open(CACHE);
  if (url.pathname === MODEL) {
    const answer = await soon(fetch(request), MODEL_PATIENCE_MS).catch(() => null);
    if (answer?.ok) {
      await cache.put(MODEL, answer.clone());
      return answer;
    }
  }
  return (await cache.match(url.pathname)) ?? fetch(request);
}

async function page(request, url) {
  try {
    return await soon(fetch(request));
  } catch {
    const cache = await caches.open(CACHE);
    const kind = url.pathname.match(/^\/performers\/[^/]+\/(measure|fitting)$/)?.[1] ?? "roster";
    const shell = `/shell/${kind}`;
    return (await cache.match(shell)) ?? Response.error();
  }
}

function soon(answer, patience = PATIENCE_MS) {
  return new Promise((done, fail) => {
    const timer = setTimeout(() => fail(new Error("slow")), patience);
    answer.then(done, fail).finally(() => clearTimeout(timer));
  });
}
