// The checks of this device, once the model has arrived; until then, what the server said.

let checks;

/** Longest wait for the checks, when an answer would need them. */
const PATIENCE_MS = 1500;

async function load() {
  const [module, answer] = await Promise.all([
    import("/static/model.js"),
    fetch("/api/model"),
  ]);
  if (answer.ok) checks = module.load(await answer.json());
}

// After the first input is usable: the model is the larger part of the page. Without it the server
// checks, as soon as there is a connection.
const start = globalThis.requestIdleCallback ?? ((work) => setTimeout(work, 200));
const arrived = new Promise((done) => { start(() => load().catch(() => {}).then(done)); });

/** The checks, once they have arrived; nothing when they take too long. */
async function soon() {
  if (!checks) await Promise.race([arrived, new Promise((done) => setTimeout(done, PATIENCE_MS))]);
  return checks;
}

/** Whom they are compared with: what was last said of it. */
export const populationOf = (performer, state) => state.population ?? performer.population;

/** Whether something waits here that the server has not judged by. */
const isAhead = (state) => state.isComparedAnew || state.readings.some((reading) => reading.waits);

const handsOf = (state) => checks.hands(state.readings);

export function checksOf() {
  return {
    /** What a tape should read: [low, high] in mm, or nothing. */
    async expected(performer, state, side, dimension) {
      const told = state.hands?.find((hand) => hand.side === side && hand.dimension === dimension);
      // The server's answer to a reading leaves out what a tape should read where one has.
      if ((isAhead(state) || !told?.expected_mm) && await soon()) {
        const { low_mm, high_mm } = checks.expected(populationOf(performer, state), handsOf(state), side, dimension);
        return [low_mm, high_mm];
      }
      return told?.expected_mm;
    },
    /** The state with its flags, checked here where the server has not seen every reading. */
    async checked(performer, state) {
      if (!isAhead(state) || !await soon()) return state;
      const population = populationOf(performer, state);
      const flags = checks.checkHands(population, handsOf(state))
        .map((flag) => ({ ...flag, kept: state.kept[flag.key] ?? null }));
      const trusted = checks.trusted(handsOf(state), flags.filter((flag) => !flag.kept));
      return { ...state, flags, ...checks.next(population, trusted, ["left", "right"]) };
    },
    /** A typed length: { mm }, or { code } of its refusal. */
    async parse(text, unit) {
      return checks?.parseLength(text, unit) ?? {};
    },
  };
}
