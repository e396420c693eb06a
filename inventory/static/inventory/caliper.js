// The caliper road: Enter goes on to the next reading, behind the last it takes the tyre in.
// A caliper does not wait for the network: what it sends while a tyre is on its way is held
// for the next one, and goes where it belongs as soon as that is there.
"use strict";
(function () {
  // Milliseconds.  A caliper's keys follow at 1 to 40; a person's at 90 and more.
  const BOUNCE = 300, MACHINE = 70;
  const at = id => document.getElementById(id);
  const fields = () => [...document.querySelectorAll("#tyre .bench-field input")];
  const empty = () => fields().find(one => !one.value.trim());
  let last = { text: "", when: -Infinity };
  let times = [];
  // Whether a tyre is on its way; the readings that came meanwhile, and what no Enter ended yet.
  let isOnItsWay = false, held = [], unended = "";

  function say(words) { at("said").textContent = words; }

  /** Say which tyre and which reading it is; what is seen is said as well. */
  function tell(field) {
    const form = at("tyre"), all = fields(), place = all.indexOf(field);
    if (place < 0) { return; }
    const words = form.dataset.words
      .replace("{number}", form.dataset.number)
      .replace("{reading}", String(place + 1)).replace("{count}", String(all.length));
    at("bench-words").textContent = words;
    say(words);
  }

  function nextOf(field) {
    const all = fields();
    const behind = all.slice(all.indexOf(field) + 1);
    return behind.find(one => !one.value.trim()) || empty() || null;
  }

  /** Some calipers end with a tab: at their speed it goes on as Enter does. */
  function isMachine(event) {
    if (!event.target.value || !times.length) { return false; }
    const span = times[times.length - 1] - times[0];
    const behind = event.timeStamp - times[times.length - 1];
    return behind <= MACHINE && span <= MACHINE * (times.length - 1);
  }

  function wrongOne() { return document.querySelector("#tyre .bench-field [aria-invalid=true]"); }

  function show(words) {
    at("bench-words").textContent = words;
    say(words);
  }

  function isLineFeed(event) { return event.ctrlKey && ["j", "m"].includes(event.key.toLowerCase()); }

  /** A caliper that bounces sends its value twice within a blink. */
  function isBounce(text, event) {
    const isTwice = text === last.text && event.timeStamp - last.when < BOUNCE;
    if (!isTwice) { last = { text, when: event.timeStamp }; }
    return isTwice;
  }

  /** Hold a key for the next tyre; a choice of gauge and a button keep theirs. */
  function hold(event) {
    const isElsewhere = event.target.closest("select, button, a, summary, input:not(.bench-field input)");
    if (isElsewhere || event.altKey || event.metaKey || (event.ctrlKey && !isLineFeed(event))) { return; }
    const ends = event.key === "Enter" || isLineFeed(event) || (event.key === "Tab" && unended);
    if (!ends && event.key.length !== 1 && event.key !== "Backspace") { return; }
    event.preventDefault();
    if (event.repeat) { return; }
    if (event.key === "Backspace") { unended = unended.slice(0, -1); }
    else if (!ends) { unended += event.key; }
    else if (unended.trim()) {
      if (!isBounce(unended, event)) { held.push(unended); }
      unended = "";
    }
    tellHeld();
  }

  function tellHeld() {
    const typed = [...held, unended].filter(Boolean).join(", ");
    if (typed) { show(at("tyre").dataset.held.replace("{typed}", typed)); }
  }

  /** Put what was held into the fields that are there now, and go on from there. */
  function release() {
    while (held.length) {
      const field = empty();
      field.value = held.shift();
      field.focus();
      if (!nextOf(field)) { at("tyre").requestSubmit(); return; }
    }
    const field = empty();
    field.focus();
    field.value = unended;
    unended = "";
  }

  function key(event) {
    const field = event.target;
    if (!field.closest) { return; }
    if (isOnItsWay) { hold(event); return; }
    if (!field.closest("#tyre .bench-field")) { return; }
    const isTab = event.key === "Tab" && !event.shiftKey && isMachine(event);
    if (event.key.length === 1 && !isLineFeed(event)) { times.push(event.timeStamp); }
    if (event.key !== "Enter" && !isLineFeed(event) && !isTab) { return; }
    event.preventDefault();
    times = [];
    if (event.repeat || !field.value.trim()) { return; }
    if (isBounce(field.value, event)) { field.value = ""; return; }
    const next = nextOf(field);
    if (next) { next.focus(); next.select(); } else { at("tyre").requestSubmit(); }
  }

  function start() {
    const form = at("tyre");
    if (!form) { return; }
    const wrong = wrongOne();
    const first = wrong || empty() || fields()[0];
    first.focus();
    if (wrong) { wrong.select(); }
    tell(first);
  }

  /** The page takes keys from now.  While a tyre is asked about, the next one's readings wait. */
  function ready() {
    isOnItsWay = false;
    if (wrongOne()) { tellHeld(); } else if (empty() && (held.length || unended)) { release(); }
  }

  document.addEventListener("keydown", key);
  document.addEventListener("focusin", event => { times = []; tell(event.target); });
  document.addEventListener("htmx:beforeRequest", event => {
    if (event.target.id === "tyre") { isOnItsWay = true; }
  });
  document.addEventListener("htmx:afterSwap", start);
  document.addEventListener("htmx:afterSettle", ready);
  for (const name of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) {
    document.addEventListener(name, function () {
      isOnItsWay = false;
      show(at("tyre").dataset.lost);
    });
  }
  const early = window.feelerbookEarly.take();
  held = early.texts;
  unended = early.unended;
  isOnItsWay = true;
  start();
  // Behind htmx, which takes the form over at the same moment.
  document.addEventListener("DOMContentLoaded", () => setTimeout(ready));
}());
