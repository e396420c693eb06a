// What was typed on this device and is not on a sheet yet.  It outlives a reload
// and a closed tab; rows hold readings and a person's number, no names.
//
// Kept twice: where a page can read it at once, and in the browser's database, which
// says when it is on the disk.  What one of them has lost comes back from the other; a
// reading that is sent a second time is taken once, by its number.
const PREFIX = "feelerbook-reading/";
const DATABASE = "feelerbook", ROWS = "readings";
let counted = 0;

const opened = new Promise(resolve => {
  try {
    const asked = indexedDB.open(DATABASE, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(ROWS, { keyPath: "id" });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => resolve(null);
  } catch (refused) { resolve(null); }
});

/** Do one thing in the browser's database; what it refuses is kept by the page. */
async function within(mode, work) {
  const base = await opened;
  if (!base) { return undefined; }
  return new Promise(resolve => {
    try {
      const change = base.transaction(ROWS, mode, { durability: "strict" });
      const asked = work(change.objectStore(ROWS));
      change.oncomplete = () => resolve(asked.result);
      change.onerror = change.onabort = () => resolve(undefined);
    } catch (refused) { resolve(undefined); }
  });
}

// Without HTTPS there is no crypto.randomUUID; a hall's plain address has this.
function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, byte => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

class Kept {
  constructor(sheet) {
    this.sheet = sheet;
    this.rows = new Map();
    this.dropped = new Set();
    for (const [key, text] of stored()) {
      const row = parsed(text);
      if (row && key.startsWith(`${PREFIX}${sheet}/`)) { this.rows.set(row.id, row); }
    }
    this.whole = this.bringBack();
  }

  /** Take from the browser's database what the page's own store has lost. */
  async bringBack() {
    const found = await within("readonly", rows => rows.getAll()) || [];
    const lost = found.filter(row =>
      row.sheet === this.sheet && !this.rows.has(row.id) && !this.dropped.has(row.id));
    for (const row of lost) { this.put(row); }
    // Whoever sends looks again, as when the network is back.
    if (lost.length) { dispatchEvent(new Event("online")); }
  }

  /** Keep a new row: `state` is "waiting", "held" or "stray". */
  add(row) {
    counted += 1;
    const at = new Date();
    return this.put({
      id: newId(), at: at.toISOString(), order: at.getTime() * 1000 + counted,
      sheet: this.sheet, text: "", high: "", answer: "", gauge: "",
      confirmed: false, sentence: "", suggestion: "", ...row,
    });
  }

  put(row) {
    this.rows.set(row.id, row);
    try { localStorage.setItem(`${PREFIX}${this.sheet}/${row.id}`, JSON.stringify(row)); }
    catch (refused) { /* A full or forbidden store: kept as long as the page is open. */ }
    within("readwrite", rows => rows.put(row));
    return row;
  }

  drop(id) {
    this.rows.delete(id);
    this.dropped.add(id);
    within("readwrite", rows => rows.delete(id));
    try { localStorage.removeItem(`${PREFIX}${this.sheet}/${id}`); }
    catch (refused) { /* As above. */ }
  }

  /** Give a row a number of its own. */
  renewed(row) {
    this.drop(row.id);
    return this.put({ ...row, id: newId() });
  }

  in(...states) {
    return Array.from(this.rows.values())
      .filter(row => states.includes(row.state))
      .sort((one, other) => one.order - other.order);
  }

  /** Whether something typed for a column is on its way or held. */
  has(column) {
    return this.in("waiting", "held").some(row => row.column === column);
  }

  /** Other sheets with readings that still wait here. */
  otherSheets() {
    const numbers = stored().map(([key]) => key.slice(PREFIX.length).split("/")[0]);
    return Array.from(new Set(numbers)).filter(number => number !== this.sheet);
  }
}

function stored() {
  try {
    return Object.entries(localStorage).filter(([key]) => key.startsWith(PREFIX));
  } catch (refused) { return []; }
}
function parsed(text) {
  try { return JSON.parse(text); } catch (broken) { return null; }
}

// Where the address is secure a page of the block can be opened without network.
if (window.isSecureContext && navigator.serviceWorker && /\/block$/.test(location.pathname)) {
  navigator.serviceWorker.register("../worker.js").catch(() => { /* Then only with network. */ });
}

export { Kept };
