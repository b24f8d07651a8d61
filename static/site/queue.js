// What this tablet has promised to keep: runs in IndexedDB until the server has said what became of them.
// A record is {n, uuid, team, item, number, state, tried, code, words}; state is "waiting" or "refused".
// What a full or broken storage does not take is held here in the page, which then has to stay open.

const NAME = "helmroom-tablet";
const STORE = "items";
const TEST_TEAM = -1;
let opened = null;
let room = true;
const held = new Map(); // by uuid the record as it should be, or null where it should be gone

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

async function write(record, gone = false) {
  if (gone && record.n === undefined) { held.delete(record.uuid); return; }
  try {
    await change((store) => { if (gone) store.delete(record.n); else store.put(record); });
    held.delete(record.uuid);
    room = true;
  } catch {
    held.set(record.uuid, gone ? null : record);
    room = false;
  }
}

async function onDisk(range, most) {
  try {
    return await read((store) => store.index("team").getAll(range, most));
  } catch {
    room = false;
    return [];
  }
}

async function rows(team, state, most = undefined) {
  if (!held.size) return onDisk(IDBKeyRange.only([team, state]), most);
  const all = new Map((await onDisk(IDBKeyRange.bound([team], [team, []]))).map((record) => [record.uuid, record]));
  for (const [uuid, record] of held) {
    if (record) all.set(uuid, record);
    else all.delete(uuid);
  }
  return [...all.values()].filter((record) => record.team === team && record.state === state).slice(0, most);
}

// Whether storage takes anything at all, tried by a write of about a run's size; what is held here goes along.
export async function test() {
  const uuid = `test-${Math.random()}`;
  const record = { uuid, team: TEST_TEAM, item: { note: "x".repeat(1000) }, state: "test" };
  await write(record);
  held.delete(uuid);
  if (!room) return;
  for (const old of await onDisk(IDBKeyRange.bound([TEST_TEAM], [TEST_TEAM, []]))) await write(old, true);
  await putAway();
}

async function putAway() {
  for (const record of [...held.values()]) if (room && record) await write(record);
}

export const hasRoom = () => room;

// Whether a run would be lost with this page.
export const onlyHere = () => [...held.values()].some((record) => record && record.n === undefined);

export async function keep(team, item, number = null) {
  await write({ uuid: item.uuid, team, item, number, state: "waiting", tried: false });
  await putAway();
}

export function waiting(team, most = undefined) {
  return rows(team, "waiting", most);
}

export function refused(team, most = undefined) {
  return rows(team, "refused", most);
}

export async function counts(team) {
  if (held.size) return { waiting: (await waiting(team)).length, refused: (await refused(team)).length };
  const some = { waiting: 0, refused: 0 };
  try {
    const db = await open();
    await new Promise((resolve, reject) => {
      const transaction = db.transaction(STORE);
      const index = transaction.objectStore(STORE).index("team");
      for (const state of Object.keys(some)) {
        index.count(IDBKeyRange.only([team, state])).onsuccess = (event) => { some[state] = event.target.result; };
      }
      transaction.oncomplete = resolve;
      transaction.onerror = () => reject(transaction.error);
    });
  } catch { room = false; }
  return some;
}

// Before they go out for the first time: from here on the server may know of them, whatever we hear back.
export async function markTried(records) {
  const fresh = records.filter((record) => !record.tried);
  for (const record of fresh) record.tried = true;
  try {
    await change((store) => { for (const record of fresh) if (!held.has(record.uuid)) store.put(record); });
  } catch {
    room = false;
    for (const record of fresh) held.set(record.uuid, record);
  }
}

export function done(record) {
  return write(record, true);
}

export function refuse(record, code, words) {
  return write({ ...record, tried: true, state: "refused", code, words });
}

export function again(record, item) {
  return write({ ...record, item, state: "waiting", code: "", words: "" });
}

const serverMayHave = (record) => !record || (record.state === "waiting" ? record.tried : record.code === "same_key_other_body");
const inItsPlace = (record, item) => ({ ...record, uuid: item.uuid, item, state: "waiting", tried: false, code: "", words: "" });
const asNew = ({ n, ...record }) => record; // its place on the disk is not taken along

// Put ``instead`` (or nothing) in the place of a run that the server does not have: never sent, or refused.
// Resolves to false, changing nothing, when the server may have it: then it takes a correction of its own.
export async function replaceUnsent(uuid, instead = null) {
  if (!held.has(uuid)) {
    try {
      return await change((store, answer) => {
        store.index("uuid").get(uuid).onsuccess = (event) => {
          const record = event.target.result;
          if (serverMayHave(record)) return answer(false);
          if (instead) store.put(inItsPlace(record, instead));
          else store.delete(record.n);
          return answer(true);
        };
      });
    } catch { room = false; }
  }
  const record = held.get(uuid) ?? await read((store) => store.index("uuid").get(uuid)).catch(() => undefined);
  if (serverMayHave(record)) return false;
  await write(record, true);
  if (instead) await write(asNew(inItsPlace(record, instead)));
  return true;
}

// The key of what is kept: a UUID of version 7 (RFC 9562, section 5.7): 48 bits of milliseconds, then random bits.
// Made by hand because crypto.randomUUID does not exist on plain HTTP, where most clubs' tablets are.

export function uuid7(now = Date.now(), random = (bytes) => crypto.getRandomValues(bytes)) {
  const bytes = random(new Uint8Array(16));
  let rest = now;
  for (let i = 5; i >= 0; i--) {
    bytes[i] = rest % 256;
    rest = Math.floor(rest / 256);
  }
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
