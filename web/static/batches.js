// Shows how far the running batches are, and loads the page anew when one has ended.
async function follow(card) {
  const progress = card.querySelector("progress");
  const label = card.querySelector("label");
  for (;;) {
    await new Promise((done) => setTimeout(done, 500));
    try {
      const answer = await fetch(`/api/batches/${card.dataset.batch}`);
      if (!answer.ok) return;
      const batch = await answer.json();
      progress.value = batch.done;
      label.textContent = `${label.dataset.words} ${batch.done}/${batch.total}`;
      if (batch.state !== "running") {
        location.reload();
        return;
      }
    } catch { /* No connection just now: ask again. */ }
  }
}

document.querySelectorAll('[data-state="running"]').forEach(follow);
