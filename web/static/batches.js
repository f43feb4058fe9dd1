// Shows how far the running batches are, and loads the page anew when one has ended.
function follow(card) {
  const progress = card.querySelector("progress");
  const label = card.querySelector("label");
  if (!progress) return;
  const events = new EventSource(`/api/batches/${card.dataset.batch}/events`);
  events.onmessage = (event) => {
    const batch = JSON.parse(event.data);
    progress.value = batch.done;
    const left = batch.seconds_left === null
      ? "" : `, ${label.dataset.left.replace("{n}", batch.seconds_left)}`;
    label.textContent = `${label.dataset.words} ${batch.done}/${batch.total}${left}`;
    if (batch.state !== "running") {
      events.close();
      location.reload();
    }
  };
}

document.querySelectorAll('[data-state="running"]').forEach(follow);

// With a call chosen, only its performers are shown; the server asks for them alone as well.
const call = document.querySelector("#call");
function showCalled() {
  const wanted = call.value.toLowerCase();
  for (const row of document.querySelectorAll("tr[data-call]")) {
    row.hidden = wanted !== "" && row.dataset.call.toLowerCase() !== wanted;
  }
}
call?.addEventListener("change", showCalled);
if (call) showCalled();

// One decision for a whole group of those that are shown.
const setter = document.querySelector("#all");
if (setter) {
  const done = document.querySelector("#set-done");
  setter.hidden = false;
  document.querySelector("#set").addEventListener("click", () => {
    const group = document.querySelector("#group").value;
    const deed = document.querySelector("#deed").value;
    const wanted = deed === "again" ? ["again", "still"] : [deed];
    let count = 0;
    for (const row of document.querySelectorAll(`tr[data-readiness="${group}"]`)) {
      const list = row.querySelector("select");
      const option = row.hidden ? undefined : [...list.options].find((one) => wanted.includes(one.value));
      if (!option) continue;
      option.selected = true;
      count += 1;
    }
    done.textContent = done.dataset.words.replace("{n}", count);
  });
}
