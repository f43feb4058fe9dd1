// The roster board: finds a performer, and keeps its figures fresh.
const find = document.querySelector("#find");
const roster = document.querySelector("#roster");

find?.addEventListener("input", () => {
  const wanted = find.value.trim().toLowerCase();
  for (const row of roster.tBodies[0].rows) {
    row.hidden = !row.textContent.toLowerCase().includes(wanted);
  }
});
