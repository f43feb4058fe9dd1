// On every page: how much waits on this device, and what can be done about it.
import { forgetRefused, noted, refusedFacts, waitingFacts } from "./device.js";
import { onQueueChange, signedInAs, sync } from "./queue.js";

const bar = document.querySelector("#waiting");
const words = JSON.parse(document.querySelector("#waiting-words").textContent);
// A page kept for work without signal does not know who is signed in; the device does.
const signedIn = document.body.dataset.account;
const account = signedIn || (await noted("account"));

function element(name, text, action) {
  const made = document.createElement(name);
  made.textContent = text;
  if (action) {
    made.type = "button";
    made.addEventListener("click", action);
  }
  return made;
}

function saveAsFile(name, value) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([JSON.stringify(value, null, 1)], { type: "application/json" }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

async function show({ waiting, status }) {
  const refused = await refusedFacts();
  bar.hidden = !waiting.length && !refused.length;
  const parts = [];
  if (waiting.length) {
    const others = waiting.filter((entry) => entry.account !== account).map((entry) => entry.account);
    const text = words[waiting.length === 1 ? "one" : "many"].replace("{n}", waiting.length);
    parts.push(element("span", `◷ ${text}`));
    if (status === "sign-in") {
      const link = element("a", words.sign_in);
      link.href = `/sign-in?to=${encodeURIComponent(location.pathname + location.search)}`;
      link.className = "button";
      parts.push(link);
    } else if (others.length) {
      parts.push(element("span", words.other.replace("{name}", [...new Set(others)].join(", "))));
    } else {
      parts.push(element("button", words.send, () => sync()));
    }
    parts.push(element("button", words.save, () => saveAsFile("handcall-waiting.json", waiting)));
  }
  for (const entry of refused) {
    const line = element("p", `⚠ ${words.refused} ${entry.fact.value ?? entry.fact.fact}: ${entry.error?.message ?? ""} `);
    line.append(element("button", words.seen, async () => {
      await forgetRefused(entry.number);
      show({ waiting: await waitingFacts() });
    }));
    parts.push(line);
  }
  bar.replaceChildren(...parts);
}

onQueueChange(show);
if (signedIn) await signedInAs(signedIn);
await show({ waiting: await waitingFacts() });
sync();
