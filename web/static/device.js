// What this device keeps: facts that wait to be sent, and the people it has seen. IndexedDB.

const NAME = "handcall";
const VERSION = 1;
let opened;

function open() {
  opened ??= new Promise((done, fail) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      const db = request.result;
      // Later versions add to this; none may drop what waits.
      if (!db.objectStoreNames.contains("waiting")) {
        db.createObjectStore("waiting", { keyPath: "number", autoIncrement: true });
        db.createObjectStore("refused", { keyPath: "number" });
        db.createObjectStore("people", { keyPath: "id" });
        db.createObjectStore("productions", { keyPath: "id" });
        db.createObjectStore("notes");
      }
    };
    request.onsuccess = () => {
      // A newer page must be able to change the stores while this one stays open.
      request.result.onversionchange = () => request.result.close();
      done(request.result);
    };
    request.onerror = () => fail(request.error);
  });
  return opened;
}

async function run(stores, mode, work) {
  const db = await open();
  return new Promise((done, fail) => {
    // Strict: a reading shown as kept is on the disk, not only in memory.
    const transaction = db.transaction(stores, mode, { durability: "strict" });
    let result;
    transaction.oncomplete = () => done(result?.result ?? result);
    transaction.onabort = () => fail(transaction.error);
    transaction.onerror = () => fail(transaction.error);
    result = work(...stores.map((name) => transaction.objectStore(name)));
  });
}

/** Keeps facts until they are sent, in their order. Resolves when they are on the disk. */
export function keepFacts(account, facts) {
  return run(["waiting"], "readwrite", (waiting) => {
    for (const fact of facts) waiting.add({ account, fact, at: Date.now() });
  });
}

/** Everything that waits, oldest first: { number, account, fact, at }. */
export const waitingFacts = () => run(["waiting"], "readonly", (waiting) => waiting.getAll());

/** Facts the server refused, with its reason. */
export const refusedFacts = () => run(["refused"], "readonly", (refused) => refused.getAll());

/**
 * Takes sent facts out of the queue; refused ones are set aside with the reason. What the server
 * says of the performers since then is known in the same step: nothing is in neither place.
 */
export function settle(sent, refusals, states) {
  return run(["waiting", "refused", "people"], "readwrite", (waiting, refused, known) => {
    for (const state of states) {
      const asked = known.get(state.performer);
      asked.onsuccess = () => { if (asked.result) known.put({ ...asked.result, state }); };
    }
    for (const entry of sent) waiting.delete(entry.number);
    for (const { entry, error } of refusals) {
      waiting.delete(entry.number);
      refused.put({ ...entry, error });
    }
  });
}

/** Forgets a refused fact, once somebody has seen it. */
export const forgetRefused = (number) => run(["refused"], "readwrite", (refused) => refused.delete(number));

/** Remembers a production with its roster for work without signal. */
export function rememberProduction(production, people) {
  return run(["productions", "people"], "readwrite", (productions, known) => {
    productions.put({ ...production, roster: people.map((person) => person.id) });
    for (const person of people) known.put(person);
  });
}

export const rememberPerson = (person) => run(["people"], "readwrite", (people) => people.put(person));
export const person = (id) => run(["people"], "readonly", (people) => people.get(id));
export const people = () => run(["people"], "readonly", (known) => known.getAll());
export const productions = () => run(["productions"], "readonly", (known) => known.getAll());
export const note = (key, value) => run(["notes"], "readwrite", (notes) => notes.put(value, key));
export const noted = (key) => run(["notes"], "readonly", (notes) => notes.get(key));
