// Which step comes next: what helps the draft most, or the list from top to bottom.

const KEY = "handcall-order";

function settled(state, side) {
  const done = new Set(state.readings.filter((r) => r.side === side).map((r) => r.dimension));
  for (const [skipped, dimension] of state.skipped) if (skipped === side) done.add(dimension);
  return done;
}

function byList(steps, state, side, index) {
  return index + 1 < steps.length ? index + 1 : undefined;
}

function byUse(steps, state, side, index) {
  const done = settled(state, side);
  done.add(steps[index]?.key);
  const useful = (state.next ?? []).filter(([planned, key]) => planned === side && !done.has(key));
  const found = useful.length
    ? steps.findIndex((step) => step.key === useful[0][1])
    : steps.findIndex((step) => !done.has(step.key));
  return found >= 0 ? found : undefined;
}

export function orderOf() {
  const isList = localStorage.getItem(KEY) === "list";
  return {
    next: isList ? byList : byUse,
    first(steps, state, side) {
      const done = settled(state, side);
      if (!isList) return byUse(steps, state, side, -1);
      const found = steps.findIndex((step) => !done.has(step.key));
      return found >= 0 ? found : undefined;
    },
    /** Fills the button that changes the order. */
    offer(button, words, changed) {
      const label = () => {
        const list = localStorage.getItem(KEY) === "list";
        button.textContent = `⇅ ${list ? words.measure.order_list : words.measure.order_next}`;
      };
      button.hidden = false;
      label();
      button.addEventListener("click", () => {
        localStorage.setItem(KEY, localStorage.getItem(KEY) === "list" ? "use" : "list");
        label();
        changed();
      });
    },
  };
}
