// A performer as this device knows them: what the server said last, with what waits applied.
import { person, rememberPerson, waitingFacts } from "./device.js";

const MM = { mm: 1, cm: 10, in: 25.4 };

/** Whether a flag's key (kind, side, dimension) is about a reading. */
function isAbout(key, { side, dimension }) {
  const [, ofSide, ofDimension] = key.split(".");
  return (ofSide === "both" || ofSide === side) && (ofDimension === "hand" || ofDimension === dimension);
}

/** Reasons flags were kept for, by key; where the readings have changed since, they count no longer. */
function settled(kept, reading) {
  return Object.fromEntries(Object.entries(kept).filter(([key]) => !isAbout(key, reading)));
}

/** The state of a performer with facts added that the server has not answered yet. */
export function withFacts(state, facts) {
  const next = { ...state, readings: [...state.readings], skipped: [...state.skipped] };
  let kept = state.kept
    ?? Object.fromEntries(state.flags.filter((flag) => flag.kept).map((flag) => [flag.key, flag.kept]));
  for (const fact of facts) {
    if (fact.performer !== state.performer) continue;
    if (fact.fact === "reading" && !next.readings.some((reading) => reading.id === fact.id)) {
      next.readings.push({
        id: fact.id, side: fact.side, dimension: fact.dimension, typed: fact.value,
        unit: fact.unit, mm: fact.mm ?? Number(String(fact.value).replace(",", ".")) * MM[fact.unit],
        waits: true,
      });
      kept = settled(kept, fact);
      if (!fact.is_repair) next.measure_again = null;
    } else if (fact.fact === "withdrawal") {
      const gone = next.readings.find((reading) => reading.id === fact.reading);
      if (gone) kept = settled(kept, gone);
      next.readings = next.readings.filter((reading) => reading.id !== fact.reading);
    } else if (fact.fact === "acceptance") {
      kept = { ...kept, [fact.flag]: fact.reason };
    } else if (fact.fact === "consent") {
      next.needs_consent = !fact.is_given;
    } else if (fact.fact === "reference") {
      next.population = fact.population;
      next.isComparedAnew = true;
    } else if (fact.fact === "skip") {
      next.skipped.push([fact.side, fact.dimension]);
    }
  }
  next.kept = kept;
  next.flags = state.flags.map((flag) => ({ ...flag, kept: kept[flag.key] ?? null }));
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
