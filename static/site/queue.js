// What this tablet has promised to keep: runs in IndexedDB until the server has said what became of them.
// A record is {n, uuid, team, item, state, tried, code, words}; state is "waiting" or "refused".

const NAME = "helmroom-tablet";
const STORE = "items";
let opened = null;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      const store = request.result.createObjectStore(STORE, { keyPath: "n", autoIncrement: true });
      store.createIndex("uuid", "uuid", { unique: true });
      store.createIndex("team", ["team", "state"]);
    };
    request.onsuccess = () => {
      request.result.onclose = () => { opened = null; };
      resolve(request.result);
    };
    request.onerror = () => { opened = null; reject(request.error); };
  });
  return opened;
}

// Resolves when the change is on the disk, not before: "kept on this tablet" has to survive a dead battery.
async function change(work) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const transaction = db.transaction(STORE, "readwrite", { durability: "strict" });
    let answer;
    transaction.oncomplete = () => resolve(answer);
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
    work(transaction.objectStore(STORE), (value) => { answer = value; });
  });
}

async function read(work) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const request = work(db.transaction(STORE).objectStore(STORE));
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

export function keep(team, item) {
  return change((store) => store.add({ uuid: item.uuid, team, item, state: "waiting", tried: false }));
}

export async function waiting(team, most = undefined) {
  return read((store) => store.index("team").getAll(IDBKeyRange.only([team, "waiting"]), most));
}

export function refused(team, most = undefined) {
  return read((store) => store.index("team").getAll(IDBKeyRange.only([team, "refused"]), most));
}

export async function counts(team) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const transaction = db.transaction(STORE);
    const index = transaction.objectStore(STORE).index("team");
    const some = { waiting: 0, refused: 0 };
    for (const state of Object.keys(some)) {
      index.count(IDBKeyRange.only([team, state])).onsuccess = (event) => { some[state] = event.target.result; };
    }
    transaction.oncomplete = () => resolve(some);
    transaction.onerror = () => reject(transaction.error);
  });
}

// Before it goes out for the first time: from here on the server may know of it, whatever we hear back.
export function markTried(records) {
  return change((store) => records.forEach((record) => store.put({ ...record, tried: true })));
}

export function done(record) {
  return change((store) => store.delete(record.n));
}

export function refuse(record, code, words) {
  return change((store) => store.put({ ...record, tried: true, state: "refused", code, words }));
}

export function again(record, item) {
  return change((store) => store.put({ ...record, item, state: "waiting", code: "", words: "" }));
}

// Put ``instead`` (or nothing) in the place of a run that the server does not have: never sent, or refused.
// Resolves to false, changing nothing, when the server may have it: then it takes a correction of its own.
export function replaceUnsent(uuid, instead = null) {
  return change((store, answer) => {
    store.index("uuid").get(uuid).onsuccess = (event) => {
      const record = event.target.result;
      const there = !record || (record.state === "waiting" ? record.tried : record.code === "same_key_other_body");
      if (there) return answer(false);
      if (instead) store.put({ ...record, uuid: instead.uuid, item: instead, state: "waiting", tried: false, code: "", words: "" });
      else store.delete(record.n);
      return answer(true);
    };
  });
}
