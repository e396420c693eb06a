// The caliper road: Enter goes on to the next reading, behind the last it takes the tyre in.
"use strict";
(function () {
  const BOUNCE = 300;
  const at = id => document.getElementById(id);
  const fields = () => [...document.querySelectorAll("#tyre .bench-field input")];
  let last = { text: "", when: -Infinity };

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
    return behind.find(one => !one.value.trim()) || all.find(one => !one.value.trim()) || null;
  }

  function key(event) {
    const field = event.target;
    if (!field.closest || !field.closest("#tyre .bench-field")) { return; }
    const isLineFeed = event.ctrlKey && ["j", "m"].includes(event.key.toLowerCase());
    if (event.key !== "Enter" && !isLineFeed) { return; }
    event.preventDefault();
    if (event.repeat || !field.value.trim()) { return; }
    // A caliper that bounces sends its value twice within a blink.
    const bounced = field.value === last.text && event.timeStamp - last.when < BOUNCE;
    if (bounced) { field.value = ""; return; }
    last = { text: field.value, when: event.timeStamp };
    const next = nextOf(field);
    if (next) { next.focus(); next.select(); } else { at("tyre").requestSubmit(); }
  }

  function start() {
    const form = at("tyre");
    if (!form) { return; }
    const wrong = form.querySelector(".bench-field [aria-invalid=true]");
    const first = wrong || fields().find(one => !one.value.trim()) || fields()[0];
    first.focus();
    if (wrong) { wrong.select(); }
    tell(first);
  }

  document.addEventListener("keydown", key);
  document.addEventListener("focusin", event => tell(event.target));
  document.addEventListener("htmx:afterSwap", start);
  for (const name of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) {
    document.addEventListener(name, function () {
      const words = at("tyre").dataset.lost;
      at("bench-words").textContent = words;
      say(words);
    });
  }
  start();
}());
