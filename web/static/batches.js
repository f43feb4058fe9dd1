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
