// The tray: what was typed and is not on the sheet, each with its sentence.
import { MACHINE, SETTLE, at, fill, fillGauges } from "./bench.js";

const PAUSE = 1000;

class Tray {
  constructor({ kept, bench, words, person, send }) {
    Object.assign(this, { kept, bench, words, person, send });
    this.shown = new Map();
  }

  /** Show what is held; an entry that is there already is left as it is. */
  refresh() {
    const rows = this.kept.in("held", "stray").concat(this.ofOthers());
    const ids = new Set(rows.map(row => row.id));
    for (const [id, entry] of this.shown) {
      if (!ids.has(id)) { this.remove(id, entry); }
    }
    for (const row of rows) {
      const said = `${row.state} ${row.sentence} ${row.text} ${this.bench.step && this.bench.step.column}`;
      const entry = this.shown.get(row.id);
      if (entry && entry.dataset.said === said) { continue; }
      const fresh = this.entry(row);
      fresh.dataset.said = said;
      if (entry) { entry.replaceWith(fresh); } else { at("tray-list").append(fresh); this.bench.moved(); }
      this.shown.set(row.id, fresh);
    }
    at("tray").hidden = !rows.length;
    if (!rows.length) { at("tray").open = false; }
    at("tray-words").textContent = rows.length > 1 ? fill(this.words.many_ask, { n: rows.length }) : this.askedIn(rows[0]);
  }

  askedIn(row) {
    const entry = row && this.shown.get(row.id);
    if (!entry) { return ""; }
    const [label, sentence] = ["label", "sentence"].map(name => entry.querySelector(`.held-${name}`).textContent);
    return row.suggestion && row.isQuestion ? fill(this.words.was_it, { label, meant: row.suggestion }) : `${label} ${sentence}`;
  }

  remove(id, entry) {
    const hadFocus = entry.contains(document.activeElement);
    this.bench.moved();
    entry.remove();
    this.shown.delete(id);
    if (hadFocus) { this.bench.focus(); }
  }

  ofOthers() { return this.kept.in("waiting").filter(row => row.person !== this.person); }

  entry(row) {
    const entry = at("held-template").content.cloneNode(true).firstElementChild;
    const part = name => entry.querySelector(`.held-${name}`);
    const answers = entry.querySelectorAll("button");
    for (const button of answers) { button.disabled = true; }
    setTimeout(() => { for (const button of answers) { button.disabled = false; } }, SETTLE);
    part("drop").addEventListener("click", () => this.drop(row));
    if (row.state === "stray") { this.fillStray(row, part); }
    else if (row.state === "held") { this.fillHeld(row, part); }
    else {
      part("label").textContent = `${row.label}: ${typed(row, this.words)}`;
      part("sentence").textContent = this.words.other_person;
      part("fields").hidden = part("take").hidden = true;
    }
    return entry;
  }

  fillStray(row, part) {
    part("label").textContent = fill(this.words.stray, { typed: row.text });
    part("fields").hidden = part("take").hidden = true;
    const step = this.bench.step;
    if (!step || !["number", "two"].includes(this.bench.mode)) { return; }
    this.offer(part("right"), fill(this.words.take_as, { label: step.label }), () => {
      this.kept.drop(row.id);
      this.bench.taken({ text: row.text, high: "" });
    });
  }

  fillHeld(row, part) {
    part("label").textContent = `${row.label}: ${typed(row, this.words)}`;
    part("sentence").textContent = row.sentence;
    part("text").value = row.text;
    part("high").value = row.high;
    part("high").hidden = !row.high;
    part("fields").hidden = Boolean(row.answer) && !row.fields;
    const step = this.bench.find(row.column);
    if (step && step.gauges.length) {
      part("gauge").hidden = false;
      part("fields").hidden = false;
      part("text").hidden = Boolean(row.answer);
      fillGauges(part("gauge"), step.gauges, this.bench.gauges, this.words.choose, row.gauge);
    }
    if (row.suggestion) {
      const words = fill(this.words.it_was, { meant: row.suggestion });
      this.offer(part("suggested"), words, () => this.retry(row, { text: row.suggestion }));
    }
    if (row.isQuestion) {
      const words = fill(this.words.is_right, { typed: typed(row, this.words) });
      this.offer(part("right"), words, () => this.retry(row, { confirmed: true }));
    }
    part("form").addEventListener("submit", event => {
      event.preventDefault();
      this.retry(row, { text: part("text").value, high: part("high").value, gauge: part("gauge").value });
    });
  }

  offer(button, words, action) {
    button.textContent = words;
    button.hidden = false;
    button.addEventListener("click", action);
  }

  retry(row, changed) {
    this.kept.put({ ...row, confirmed: false, ...changed, state: "waiting", sentence: "", suggestion: "", isQuestion: false, person: this.person, shown: row.column });
    this.refresh();
    this.send();
  }

  drop(row) {
    this.kept.drop(row.id);
    this.refresh();
    this.bench.learnEmpty();
  }
}

function typed(row, words) {
  if (row.text && row.answer) { return fill(row.answer === "yes" ? words.it_goes : words.it_stops, { typed: row.text }); }
  return row.answer || (row.high ? `${row.text} – ${row.high}` : row.text);
}

/** Characters that come while no field is ready: into the tray, and nothing else. */
class Strays {
  constructor({ kept, tray, bench }) {
    Object.assign(this, { kept, tray, bench });
    this.row = null;
    this.when = -Infinity;
    document.addEventListener("keydown", event => this.key(event), true);
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || isField(event.target) || this.bench.answerOf(event)) { this.row = null; return; }
    const isClose = event.timeStamp - this.when <= MACHINE;
    if (event.key === "Enter" || event.key === "Tab") {
      if (isClose || this.isTooSoon(event)) { event.preventDefault(); event.stopPropagation(); }
      this.row = null;
    } else if (event.key.length === 1 && event.key !== " " && this.isMeant(event)) {
      event.preventDefault();
      this.add(event);
    }
  }

  /** A choice of gauge may be typed by its letters, never by a caliper's figures. */
  isMeant(event) {
    return event.target.localName !== "select" || /[\d.,+-]/.test(event.key);
  }

  isTooSoon(event) {
    if (event.key !== "Enter" || !["button", "summary"].includes(event.target.localName)) { return false; }
    return event.repeat || !this.bench.isSettled(event.timeStamp);
  }

  add(event) {
    const goesOn = this.row && event.timeStamp - this.when < PAUSE;
    if (goesOn) { this.row = this.kept.put({ ...this.row, text: this.row.text + event.key }); }
    else { this.row = this.kept.add({ state: "stray", text: event.key, column: "", label: "" }); }
    this.when = event.timeStamp;
    this.tray.refresh();
  }
}

function isField(target) {
  return target.localName === "textarea" || target.localName === "input";
}

export { Tray, Strays, typed };
