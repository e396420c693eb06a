// What was typed on this device and is not on a sheet yet.  It outlives a reload
// and a closed tab; rows hold readings and a person's number, no names.
"use strict";
(function () {
  const PREFIX = "feelerbook-reading/";
  let counted = 0;

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
      for (const [key, text] of stored()) {
        const row = parsed(text);
        if (row && key.startsWith(`${PREFIX}${sheet}/`)) { this.rows.set(row.id, row); }
      }
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
      return row;
    }

    drop(id) {
      this.rows.delete(id);
      try { localStorage.removeItem(`${PREFIX}${this.sheet}/${id}`); }
      catch (refused) { /* As above. */ }
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

  window.feelerbook = { Kept };
}());
