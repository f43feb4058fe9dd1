// Shows how far a lay is, and loads the page anew when it has ended.
const PAUSE_MS = 500;

async function follow(card) {
  const progress = card.querySelector("progress");
  for (;;) {
    await new Promise((done) => setTimeout(done, PAUSE_MS));
    try {
      const answer = await fetch(`/api/lays/${card.dataset.lay}`);
      if (!answer.ok) return;
      const lay = await answer.json();
      if (progress) progress.value = lay.share_done;
      if (lay.state !== "running") {
        location.reload();
        return;
      }
    } catch {
      // No signal for the moment: ask again.
    }
  }
}

document.querySelectorAll('[data-lay][data-state="running"]').forEach(follow);
