// The bench: one reading at a time, as a caliper types it.
const GAUGES = "feelerbook-gauges";
// Milliseconds.  A caliper's keys follow at 1 to 40; a person's at 90 and more.
const MACHINE = 70;
const BOUNCE = 300;
// The second half of a double tap or of an end of line, or a key held down, was
// meant for what stood there before: it is no answer to what has just appeared.
const SETTLE = 400;

const at = id => document.getElementById(id);
const fill = (words, said) => words.replace(/\{(\w+)\}/g, (_, name) => said[name]);

function remembered() {
  try { return JSON.parse(localStorage.getItem(GAUGES)) || {}; } catch (refused) { return {}; }
}
function remember(usual, gauge) {
  try { localStorage.setItem(GAUGES, JSON.stringify({ ...remembered(), [usual]: gauge })); }
  catch (refused) { /* Asked again on the next page, then. */ }
}

class Bench {
  constructor({ steps, gauges, words, kept, take }) {
    Object.assign(this, { steps, gauges, words, kept, take });
    this.step = null;
    this.times = [];
    this.last = { text: "", at: -Infinity };
    this.shownAt = -Infinity;
    this.press = null;
    this.listen();
  }

  listen() {
    at("bench").addEventListener("submit", event => {
      event.preventDefault();
      const button = event.submitter;
      if (button && button.name === "answer") { this.answer(button.value); }
      else if (button && button.name === "all") { this.answerAll(); }
      else { this.takeTyped(event.timeStamp); }
    });
    // A finger answers the step on which it came down, a key the one it clicks.
    at("bench").addEventListener("pointerdown", event => this.pressed(event), true);
    at("bench").addEventListener("click", event => {
      if (!this.press || event.detail === 0) { this.pressed(event); }
    }, true);
    at("bench").addEventListener("keydown", event => this.answerKey(event));
    for (const input of [at("id_text"), at("id_high_text")]) {
      input.addEventListener("keydown", event => this.key(event));
      input.addEventListener("input", () => {
        this.tell("");
        if (!input.value) { this.times = []; }
      });
    }
    at("id_gauge").addEventListener("change", () => this.gaugeChosen());
    at("bench-later").addEventListener("click", () => this.go(this.nextEmpty()));
    at("bench-two-slips").addEventListener("click", event => {
      event.preventDefault();
      this.show("two");
      at("id_text").focus();
    });
  }

  /** Keys in a field: Enter takes it; Tab only at a caliper's speed. */
  key(event) {
    const isLineFeed = event.ctrlKey && ["j", "m"].includes(event.key.toLowerCase());
    if (event.key === "Enter" || isLineFeed) {
      event.preventDefault();
      if (!event.repeat) { this.enter(event.target, event.timeStamp); }
    } else if (event.key === "Tab" && !event.shiftKey && this.isMachine(event)) {
      event.preventDefault();
      this.enter(event.target, event.timeStamp);
    } else if (event.key.length === 1 && !event.ctrlKey && !event.metaKey) {
      this.times.push(event.timeStamp);
    }
  }

  isMachine(event) {
    if (!event.target.value || !this.times.length) { return false; }
    const count = this.times.length;
    const span = this.times[count - 1] - this.times[0];
    const behind = event.timeStamp - this.times[count - 1];
    return behind <= MACHINE && span <= MACHINE * (count - 1);
  }

  enter(input, when) {
    const isFirstOfTwo = this.mode === "two" && input.id === "id_text" && input.value.trim();
    if (isFirstOfTwo) { at("id_high_text").focus(); } else { this.takeTyped(when); }
  }

  takeTyped(when) {
    const text = at("id_text").value, high = at("id_high_text").value;
    if (!text.trim()) {
      // The line feed behind a carriage return finds the field empty.
      if (when - this.last.at > BOUNCE) { this.tell(this.words.nothing_typed); }
      return;
    }
    if (text.length > 200) { this.tell(fill(this.words.too_long, { typed: text.slice(0, 20) + "…" })); return; }
    const bounced = text === this.last.text && when - this.last.at < BOUNCE;
    this.clear();
    if (bounced) { this.tell(fill(this.words.bounced, { typed: text })); return; }
    this.last = { text, at: when };
    this.taken({ text, high });
  }

  pressed(event) {
    const shown = this.step ? this.step.column : "";
    this.press = { shown, isSettled: this.isSettled(event.timeStamp) };
  }

  answer(word) {
    const { shown, isSettled } = this.press;
    this.press = null;
    if (!isSettled || !this.step) { return; }
    const text = this.mode === "slips" ? this.step.limit : "";
    this.taken({ text, answer: word, shown });
  }

  /** The answer that a key gives while the question has the focus, if it gives one. */
  answerOf(event) {
    const isPlain = !event.ctrlKey && !event.metaKey && !event.altKey;
    if (!isPlain || event.key.length !== 1 || event.target.localName === "input" || !at("bench").contains(event.target)) { return null; }
    return document.querySelector(`#bench fieldset:not([disabled]) [data-key="${CSS.escape(event.key.toLowerCase())}"]`);
  }

  answerKey(event) {
    const button = this.answerOf(event);
    if (!button) { return; }
    event.preventDefault();
    if (event.repeat) { return; }
    this.pressed(event);
    this.answer(button.value);
  }

  /** The looks that the edition lets be answered together, and are not answered yet. */
  together() { return this.steps.filter(step => step.all && this.isEmpty(step)); }

  /** All as they should be: each goes to the sheet as a reading of its own. */
  answerAll() {
    const { shown, isSettled } = this.press || {};
    this.press = null;
    if (!isSettled || !this.step || shown !== this.step.column) { return; }
    for (const step of this.together()) {
      this.take({ column: step.column, label: step.label, unit: step.unit, gauge: "", text: "", answer: step.all, shown: step.column });
    }
    this.go(this.nextEmpty());
  }

  taken(typed) {
    const step = this.step;
    if (!step) { return; }
    const gauge = at("bench-gauge").hidden ? "" : at("id_gauge").value;
    this.take({ column: step.column, label: step.label, unit: step.unit, gauge, ...typed });
    this.go(this.nextEmpty());
  }

  clear() {
    at("id_text").value = "";
    at("id_high_text").value = "";
    this.times = [];
  }

  find(column) { return this.steps.find(step => step.column === column) || null; }

  isEmpty(step) { return step.asked && !step.value && !this.kept.has(step.column); }

  /** The next empty step behind this one, round to the first. */
  nextEmpty() {
    const here = this.steps.indexOf(this.step);
    const round = [...this.steps.slice(here + 1), ...this.steps.slice(0, here + 1)];
    return round.find(step => this.isEmpty(step)) || null;
  }

  go(step, { focus = true } = {}) {
    this.step = step;
    this.clear();
    this.tell("");
    this.moved();
    at("bench-body").hidden = at("bench-foot").hidden = !step;
    if (step) { at("bench-ask").textContent = step.label; }
    at("bench-how").textContent = step ? step.how : "";
    this.showPicture();
    if (step) { this.showStep(step); }
    this.refresh();
    if (focus) { this.focus(); }
  }

  showStep(step) {
    at("bench-column").value = step.column;
    for (const unit of document.querySelectorAll("#bench .unit")) { unit.textContent = step.unit; }
    at("bench-limit").textContent = step.limit;
    at("bench-limit-text").value = step.limit;
    at("bench-two-slips").href = `?column=${step.column}&slips=two`;
    this.showGauges(step);
    const together = this.together();
    at("bench-all").hidden = together.length < 2 || !together.includes(step);
    at("bench-all-words").textContent = together.map(one => one.label).join(", ");
    const number = step.kind === "slips" && !step.limit ? "two" : "number";
    this.show(step.kind === "look" ? "look" : step.kind === "slips" && step.limit ? "slips" : number);
  }

  show(mode) {
    this.mode = mode;
    const isTyped = mode === "number" || mode === "two";
    for (const [id, isShown] of [["number", isTyped], ["slips", mode === "slips"], ["look", mode === "look"]]) {
      at(`bench-${id}`).hidden = !isShown;
      at(`bench-${id}`).disabled = !isShown;
    }
    at("bench-high").hidden = mode !== "two";
    at("id_text").setAttribute("aria-labelledby", mode === "two" ? "bench-ask bench-slip-goes" : "bench-ask");
  }

  showPicture() {
    const box = at("bench-picture"), column = this.step && this.step.column;
    box.textContent = "";
    if (!column) { return; }
    const picture = document.querySelector(`#pictures > [data-column="${column}"]`);
    if (picture) { box.append(picture.content.cloneNode(true)); } else { this.fetchPicture(column); }
  }

  /** Of a step that the page does not ask by itself: from that step's own page. */
  async fetchPicture(column) {
    try {
      const response = await fetch(`?column=${column}`, { credentials: "same-origin" });
      const page = new DOMParser().parseFromString(await response.text(), "text/html");
      const picture = page.querySelector("#bench-picture > svg");
      if (picture && this.step && this.step.column === column) { at("bench-picture").replaceChildren(picture); }
    } catch (noNetwork) { /* The words beside it say how it is taken. */ }
  }

  showGauges(step) {
    at("bench-gauge").hidden = !step.gauges.length && !step.not_offered;
    at("bench-gauge-not").textContent = step.not_offered;
    fillGauges(at("id_gauge"), step.gauges, this.gauges, this.words.choose, this.gaugeFor(step));
    this.noteGauge();
  }

  gaugeFor(step) {
    const kept = remembered()[step.usual];
    return step.usual_gauges.find(id => this.gauges[id].gauge === kept) || step.usual_gauges[0] || "";
  }

  gaugeChosen() {
    const gauge = this.gauges[at("id_gauge").value];
    if (gauge) { remember(this.step.usual, gauge.gauge); }
    this.noteGauge();
  }

  noteGauge() {
    const gauge = this.gauges[at("id_gauge").value];
    say(at("bench-gauge-note"), gauge ? gauge.note : "");
  }

  /** What a change elsewhere may alter, without touching what is typed. */
  refresh() {
    const asked = this.steps.filter(step => step.asked);
    // Nothing counts that is not on the sheet.
    const done = asked.filter(step => step.value).length;
    if (!this.step) {
      const away = this.kept.in("held", "waiting").length;
      at("bench-ask").textContent = away ? fill(this.words.not_there_yet, { n: away }) : this.words.all_taken;
    }
    let words = fill(this.words.taken_of, { done, all: asked.length });
    if (this.step && this.step.value) { words += ` · ${fill(this.words.here_already, { value: this.step.value })}`; }
    at("bench-step").textContent = words;
    const isOther = this.steps.some(step => step !== this.step && this.isEmpty(step));
    at("bench-later").hidden = !isOther;
  }

  /** Take over what the sheet holds now; the focus stays, or figures would be split. */
  learn(values) {
    for (const step of this.steps) { step.value = values[step.column] || ""; }
    const idle = !this.step && this.nextEmpty();
    if (idle) { this.go(idle, { focus: false }); }
    else { this.refresh(); }
  }

  /** A step has become empty again; an idle bench turns to it. */
  learnEmpty() {
    if (!this.step && this.nextEmpty()) { this.go(this.nextEmpty()); } else { this.refresh(); }
  }

  focus() {
    const first = this.step && { number: "#id_text", two: "#id_text", slips: "#bench-slips button", look: "#bench-look [data-key]" }[this.mode];
    (first ? document.querySelector(first) : at("bench-ask")).focus({ preventScroll: this.isSeen() });
  }

  isSeen() {
    const box = at("bench").getBoundingClientRect();
    return box.top >= 0 && box.top < innerHeight / 2;
  }

  tell(words) {
    say(at("bench-error"), words);
    at("id_text").toggleAttribute("aria-invalid", Boolean(words));
  }

  /** Say that what stands under a finger has moved. */
  moved() { this.shownAt = performance.now(); }

  isSettled(when) { return when - this.shownAt > SETTLE; }
}

/** Write a sentence where errors stand; no words, no space. */
function say(place, words) {
  place.textContent = "";
  if (!words) { return; }
  const sentence = document.createElement("p");
  sentence.textContent = words;
  place.append(sentence);
}

/** Write a select's options: gauges that may be used, with what is to be known of them. */
function fillGauges(select, ids, gauges, choose, chosen) {
  select.textContent = "";
  select.append(new Option(choose, ""));
  for (const id of ids) {
    const { name, standing } = gauges[id];
    select.append(new Option(standing ? `${name} — ${standing}` : name, id));
  }
  select.value = chosen;
}

export { Bench, MACHINE, SETTLE, at, fill, fillGauges, say };
