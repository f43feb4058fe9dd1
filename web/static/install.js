// Installs the service worker, offers a new version, and says whether the page works without signal.
const words = JSON.parse(document.querySelector("#waiting-words").textContent);
const offer = document.querySelector("#update");
const ready = document.querySelector("#ready");

function propose(worker) {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = words.update;
  button.addEventListener("click", () => {
    navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
    worker.postMessage("take over");
  });
  offer.replaceChildren(button);
  offer.hidden = false;
}

async function install() {
  const registration = await navigator.serviceWorker.register("/sw.js");
  if (registration.waiting && navigator.serviceWorker.controller) propose(registration.waiting);
  registration.addEventListener("updatefound", () => {
    const worker = registration.installing;
    worker?.addEventListener("statechange", () => {
      if (worker.state === "installed" && navigator.serviceWorker.controller) propose(worker);
    });
  });
  await navigator.serviceWorker.ready;
  document.documentElement.dataset.offline = "ready";
  if (ready) ready.textContent = `✓ ${words.ready}`;
}

function missing() {
  if (!ready) return;
  ready.textContent = `⚠ ${words.not_ready} `;
  if (location.protocol === "https:") {
    const link = document.createElement("a");
    link.href = "/trust";
    link.textContent = words.trust;
    ready.append(link);
  }
}

if ("serviceWorker" in navigator) install().catch(missing);
else missing();
