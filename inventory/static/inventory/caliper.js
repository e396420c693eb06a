// The caliper road: Enter goes on to the next reading, behind the last it takes the tyre in.
"use strict";
(function () {
  // Milliseconds.  A caliper's keys follow at 1 to 40; a person's at 90 and more.
  const BOUNCE = 300, MACHINE = 70;
  const at = id => document.getElementById(id);
  const fields = () => [...document.querySelectorAll("#tyre .bench-field input")];
  let last = { text: "", when: -Infinity };
  let times = [];

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

  /** Some calipers end with a tab: at their speed it goes on as Enter does. */
  function isMachine(event) {
    if (!event.target.value || !times.length) { return false; }
    const span = times[times.length - 1] - times[0];
    const behind = event.timeStamp - times[times.length - 1];
    return behind <= MACHINE && span <= MACHINE * (times.length - 1);
  }

  function key(event) {
    const field = event.target;
    if (!field.closest || !field.closest("#tyre .bench-field")) { return; }
    const isLineFeed = event.ctrlKey && ["j", "m"].includes(event.key.toLowerCase());
    const isTab = event.key === "Tab" && !event.shiftKey && isMachine(event);
    if (event.key.length === 1 && !isLineFeed) { times.push(event.timeStamp); }
    if (event.key !== "Enter" && !isLineFeed && !isTab) { return; }
    event.preventDefault();
    times = [];
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
  document.addEventListener("focusin", event => { times = []; tell(event.target); });
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
