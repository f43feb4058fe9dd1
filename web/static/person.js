// A performer as this device knows them: what the server said last, with what waits applied.
import { person, rememberPerson, waitingFacts } from "./device.js";

const MM = { mm: 1, cm: 10, in: 25.4 };

/** The state of a performer with facts added that the server has not answered yet. */
export function withFacts(state, facts) {
  const next = {
    ...state, readings: [...state.readings], skipped: [...state.skipped], flags: [...state.flags],
  };
  for (const fact of facts) {
    if (fact.performer !== state.performer) continue;
    if (fact.fact === "reading" && !next.readings.some((reading) => reading.id === fact.id)) {
      next.readings.push({
        id: fact.id, side: fact.side, dimension: fact.dimension, typed: fact.value,
        unit: fact.unit, mm: fact.mm ?? Number(String(fact.value).replace(",", ".")) * MM[fact.unit],
        waits: true,
      });
    } else if (fact.fact === "withdrawal") {
      next.readings = next.readings.filter((reading) => reading.id !== fact.reading);
    } else if (fact.fact === "acceptance") {
      next.flags = next.flags.map((flag) => (flag.key === fact.flag ? { ...flag, kept: fact.reason } : flag));
    } else if (fact.fact === "consent") {
      next.needs_consent = !fact.is_given;
    } else if (fact.fact === "reference") {
      next.population = fact.population;
      next.isComparedAnew = true;
    } else if (fact.fact === "skip") {
      next.skipped.push([fact.side, fact.dimension]);
    }
  }
  return next;
}

/** The known state with everything that waits on this device. */
export async function withWaiting(state) {
  const waiting = await waitingFacts();
  return withFacts(state, waiting.map((entry) => entry.fact));
}

/** Keeps the server's word about a performer for later. */
export async function remember(performer, state) {
  const known = (await person(performer.id)) ?? {};
  await rememberPerson({ ...known, ...performer, state });
}
