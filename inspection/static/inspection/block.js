// The block page: sends what the bench takes, shows what the rules make of it.
import { Bench, SETTLE, at, fill, say } from "./bench.js";
import { Kept } from "./kept.js";
import { Strays, Tray, typed } from "./tray.js";

const POLL = 4000;
// A hand that rests so long between two readings looks at the drawing.
const REST = 400;
const PATIENCE = 10000;
const LONGEST_WAIT = 30000;
const CHANGED = 1500;
// The server is away or has no room: whatever is sent meets the same.
const COME_AGAIN = new Set([502, 503, 504, 507]);
const FAULTS_BEFORE_ASIDE = 3;

const page = at("block-page");
const { sheet, readingUrl, newsUrl, signInUrl } = page.dataset;
let { person } = page.dataset;
const words = JSON.parse(at("words").textContent);
const { steps, gauges } = JSON.parse(at("steps-data").textContent);
let token = document.querySelector("[name=csrfmiddlewaretoken]").value;

const kept = new Kept(sheet);
const bench = new Bench({ steps, gauges, words, kept, take });
const tray = new Tray({ kept, bench, words, person, send: () => pump() });
new Strays({ kept, tray, bench });

let asking = null, isHandingOver = false;
let isSending = false, isClosed = false, isSignedOut = false;
let wait = 1000, failures = 0, timer = 0, lastReading = null, lastShownAt = -Infinity;
let asked = 0, rest = 0;

function take(reading) {
  const row = kept.add({ state: "waiting", person, ...reading });
  showLast(fill(words.sending, { label: row.label, typed: typed(row, words) }), null);
  // While nothing gets through, the timer tries again, not each reading.
  if (failures) { showLine(); } else { pump(); }
}

// Sending: one after the other; a reading leaves the store when it is answered.

function mine() { return kept.in("waiting").filter(row => row.person === person); }

async function pump() {
  if (isSending) { return; }
  clearTimeout(timer);
  isSending = true;
  let row = mine()[0];
  while (row && await send(row)) { row = mine()[0]; }
  isSending = false;
  showLine();
}

async function send(row) {
  try {
    const answer = await ask(readingUrl, {
      reading_id: row.id, column: row.column, text: row.text, high_text: row.high,
      typed_by: row.person, answer: row.answer, shown: row.shown || "", gauge: row.gauge, taken_at: row.at, confirmed: row.confirmed ? "on" : "",
    });
    failures = 0;
    wait = 1000;
    settle(row, answer);
    return true;
  } catch (trouble) {
    if (isSetAside(row, trouble.status)) { return true; }
    failures += 1;
    timer = setTimeout(pump, wait * (1 + Math.random() / 4));
    wait = Math.min(wait * 2, LONGEST_WAIT);
    return false;
  }
}

/** A reading over which the server fails again and again does not stop the others. */
function isSetAside(row, status) {
  if (!(status >= 500) || COME_AGAIN.has(status)) { return false; }
  const faults = (row.faults || 0) + 1;
  kept.put({ ...row, faults });
  if (faults < FAULTS_BEFORE_ASIDE) { return false; }
  hold({ ...row, faults: 0 }, { errors: [{ sentence: fill(words.fault, { status }) }] });
  tray.refresh();
  return true;
}

/** Post as a form does; throws when there is no answer to act upon. */
async function ask(address, fields, isRepeat) {
  asked += 1;
  const body = new URLSearchParams({ ...fields, have: tags() });
  const response = await fetch(address, {
    method: "POST", body, credentials: "same-origin", signal: patience(),
    headers: { Accept: "application/json", "X-CSRFToken": token },
  });
  isSignedOut = response.redirected;
  const isJson = (response.headers.get("Content-Type") || "").startsWith("application/json");
  if (response.status === 403 && !isRepeat && await news("")) { return ask(address, fields, true); }
  if (isSignedOut || response.status >= 500 || response.status === 403) {
    throw Object.assign(new Error(response.status), { status: response.status });
  }
  if (!isJson) { return { status: response.status, errors: [{ sentence: fill(words.refused, { status: response.status }) }] }; }
  return { status: response.status, ...await response.json() };
}

function patience() {
  return AbortSignal.timeout ? AbortSignal.timeout(PATIENCE) : undefined;
}

function settle(row, answer) {
  if (answer.status === 200) {
    kept.drop(row.id);
    apply(answer);
    const value = answer.values[row.column] || typed(row, words);
    const said = [fill(words.last, { label: row.label, value }), ...answer.said.slice(0, 3)];
    showLast(said.join(" · "), { id: answer.reading, row });
    announce(said.join(". "), answer.is_alarm);
  } else if (answer.errors.some(error => error.code === "typed_by_other")) {
    // Another took over meanwhile: it waits for whoever typed it.
    apply(answer);
  } else {
    hold(row, answer);
  }
  tray.refresh();
}

function hold(row, answer) {
  const sentence = answer.question || answer.errors.map(error => error.sentence).join(" ");
  // What is another sheet's under this number is a reading of its own here.
  if (answer.errors.some(error => error.code === "reading_id_taken")) { row = kept.renewed(row); }
  kept.put({
    ...row, state: "held", sentence, isQuestion: Boolean(answer.question),
    suggestion: answer.suggestion || "",
  });
  if (answer.pieces) { apply(answer); }
  showLast("", null);
  at("alarm").textContent = sentence;
}

// News: what another browser did, and what follows a reading: drawings, folds.

async function news(have = tags()) {
  const before = asked;
  const response = await fetch(`${newsUrl}?have=${encodeURIComponent(have)}`, {
    credentials: "same-origin", signal: patience(), headers: { Accept: "application/json" },
  });
  isSignedOut = response.redirected;
  if (response.status === 204) { if (before === asked) { followed(); } return true; }
  if (isSignedOut || !response.ok) { return false; }
  const answer = await response.json();
  // What was asked before a reading may be older than that reading's own answer.
  if (before !== asked && !answer.sealed) { token = answer.token; follow(); return true; }
  apply(answer);
  followed();
  if (answer.said.length) { announce(answer.said.join(". "), answer.is_alarm); }
  return true;
}

async function askNews() {
  if (document.hidden || isClosed || isHandingOver) { return; }
  try {
    asking = news();
    await asking;
    if (!mine().length) { failures = 0; }
  } catch (trouble) { failures += 1; }
  showLine();
}

async function poll() {
  if (!isSending) { await askNews(); }
  setTimeout(poll, POLL);
}

/** Ask for what follows when the hand rests; at once where somebody looks at it. */
function follow() {
  clearTimeout(rest);
  const isOpen = document.querySelector("details[open] > [aria-busy]");
  rest = setTimeout(() => { if (isSending) { follow(); } else { askNews(); } }, isOpen && !isSending ? 0 : REST);
}

function followed() {
  for (const fold of document.querySelectorAll("[data-tag][aria-busy]")) { fold.removeAttribute("aria-busy"); }
}

// The page follows.

function tags() {
  return Array.from(document.querySelectorAll("[data-tag]"), piece => piece.dataset.tag).join(" ");
}

function apply(answer) {
  token = answer.token || token;
  goOnAs(answer);
  for (const [key, html] of Object.entries(answer.pieces)) { place(key, html); }
  bench.learn(answer.values);
  tray.refresh();
  if (answer.follows) { follow(); }
  if (answer.sealed) { close(answer.sealed); }
}

/** Whoever is signed in at this device now: what is taken from here on is theirs. */
function goOnAs(answer) {
  if (!answer.person || answer.person === person) { return; }
  person = tray.person = answer.person;
  for (const place of document.querySelectorAll(".person")) {
    (place.querySelector("a") || place).textContent = answer.name;
  }
  say(at("take-over-error"), "");
  announce(fill(words.goes_on, { name: answer.name }), false);
  // What waited here for them; the server has just answered.
  failures = 0;
  wait = 1000;
  setTimeout(pump);
}

function place(key, html) {
  const old = at(key);
  // What somebody is typing in stays; the piece comes again with the next news.
  if (!old || isTypedIn(old)) { return; }
  const box = document.createElement("template");
  box.innerHTML = html.trim();
  const fresh = box.content.firstElementChild;
  // What is folded in it follows; till then stands what it was, and says so.
  const due = fresh.querySelector("[aria-busy]");
  const was = due && at(due.id);
  const focused = old.contains(document.activeElement) ? document.activeElement : null;
  if (was) {
    was.setAttribute("aria-busy", "true");
    due.replaceWith(was);
  }
  const folds = fresh.querySelectorAll("details");
  old.querySelectorAll("details").forEach((fold, place) => {
    // What would be signed has changed: it is looked at anew.
    if (fold.open && folds[place] && fold.id !== "sealing") { folds[place].open = true; }
  });
  fresh.classList.add("is-changed");
  setTimeout(() => fresh.classList.remove("is-changed"), CHANGED);
  old.replaceWith(fresh);
  if (fresh.dataset.group) { regroup(fresh); }
  if (focused && focused.isConnected) { focused.focus({ preventScroll: true }); }
  else if (focused) { refocus(fresh, focused.id); }
}

/** A rule whose outcome changed goes under its own heading, in the rulebook's order. */
function regroup(rule) {
  const place = Number(rule.dataset.position);
  const list = document.querySelector(`.rules-group[data-group="${rule.dataset.group}"] > .rules-list`);
  const next = Array.from(list.children).find(one => one !== rule && Number(one.dataset.position) > place);
  if (rule.parentElement !== list) { list.insertBefore(rule, next || null); }
  for (const group of document.querySelectorAll(".rules-group")) {
    const count = group.querySelectorAll(".rules-list > li").length;
    group.hidden = !count;
    group.querySelector(".count").textContent = count;
  }
}

function isTypedIn(piece) {
  return Array.from(piece.querySelectorAll("input:not([type=hidden])")).some(
    input => input === document.activeElement || input.value !== input.defaultValue);
}

function refocus(piece, id) {
  const same = id && at(id);
  // What stands folded begins with its summary, which is not in it.
  const whole = piece.parentElement.localName === "details" ? piece.parentElement : piece;
  const other = whole.querySelector("summary, a, button, [tabindex]");
  (same || other || at("bench-ask")).focus({ preventScroll: true });
}

function announce(sentence, isAlarm) {
  at(isAlarm ? "alarm" : "say").textContent = sentence;
}

function showLast(sentence, reading) {
  lastReading = reading;
  at("last").hidden = !sentence;
  at("last-words").textContent = sentence;
  at("last-again").hidden = at("last-strike").hidden = !(reading && reading.id);
  at("last-strike-form").hidden = true;
  lastShownAt = performance.now();
}

/** Whether a finger came down on the last reading's buttons only after they stood there. */
function isMeantForLast(event) { return event.timeStamp - lastShownAt > SETTLE; }

function showLine() {
  const count = mine().length;
  const here = [];
  if (failures && count) { here.push(fill(count === 1 ? words.waiting_one : words.waiting_many, { n: count })); }
  if (isSignedOut) { here.push(words.signed_out); } else if (failures > 1) { here.push(words.no_answer); }
  if (isClosed) { return; }
  at("line").hidden = !here.length;
  at("line-words").textContent = here.join(" ");
  if (isSignedOut) { at("line-words").append(" ", link(signInUrl, words.sign_in)); }
  at("line-send").hidden = !count;
}

function link(address, text) {
  const anchor = document.createElement("a");
  anchor.href = address;
  anchor.textContent = text;
  return anchor;
}

function close(sealed) {
  if (isClosed) { return; }
  isClosed = true;
  at("bench").hidden = true;
  at("last").hidden = true;
  at("verdict").hidden = true;
  at("line").hidden = false;
  at("line-send").hidden = true;
  at("line-words").textContent = `${sealed.sentence} `;
  at("line-words").append(link(sealed.address, words.open_sheet));
  at("alarm").textContent = sealed.sentence;
  if (document.activeElement === document.body) { at("line-words").querySelector("a").focus(); }
}

// A change of hands: what waits is sent first, as the one who typed it.

async function takeOver(form) {
  const say_ = sentence => say(at("take-over-error"), sentence);
  isHandingOver = true;
  try {
    // What is asked as one person and answered to another ends the other's session.
    await Promise.resolve(asking).catch(() => {});
    while (isSending) { await new Promise(done => setTimeout(done, 50)); }
    await pump();
    isSending = true;
    const { who, secret } = form.elements;
    const answer = await ask(form.action, { who: who.value, secret: secret.value });
    if (answer.status === 429) { say_(words.wait); return; }
    if (answer.status !== 200) { say_(answer.errors.map(error => error.sentence || error).join(" ")); return; }
    form.reset();
    at("take-over").open = false;
    isSignedOut = false;
    apply(answer);
    bench.moved();
    bench.focus();
  } catch (trouble) { say_(words.no_answer_now); }
  finally { isSending = isHandingOver = false; pump(); }
}

// Striking, taking again, sealing.

async function strike(form, reason) {
  try {
    const answer = await ask(form.action, { reason });
    const isStruck = answer.status === 200;
    say(form.querySelector(".field-error"), answer.errors.map(error => error.sentence).join(" "));
    if (!isStruck) { return; }
    const row = form.closest(".step");
    form.reset();
    document.activeElement.blur();
    apply(answer);
    if (row) { refocus(at(row.id), `${row.id}-fold`); }
    else { showLast(fill(words.struck, lastReading.row), null); bench.focus(); }
    announce(answer.said.join(". "), answer.is_alarm);
  } catch (trouble) {
    say(form.querySelector(".field-error"), words.no_answer);
  }
}

document.addEventListener("submit", event => {
  const form = event.target;
  if (form.classList.contains("strike")) {
    event.preventDefault();
    const button = event.submitter;
    strike(form, button && button.value ? button.value : form.querySelector("input[name=reason]").value);
  } else if (form.id === "take-over-form") {
    event.preventDefault();
    takeOver(form);
  } else if (form.classList.contains("seal")) {
    const unsent = kept.in("waiting", "held").length;
    if (!bench.isSettled(event.timeStamp)) { event.preventDefault(); return; }
    if (unsent) {
      event.preventDefault();
      say(at("seal-error"), fill(words.unsent_seal, { n: unsent }));
    }
  }
});

// What opens under a finger is not signed by it; the keyboard goes straight to it.
document.addEventListener("toggle", event => {
  if (event.target.open && event.target.querySelector(":scope > [aria-busy]")) { follow(); }
  if (event.target.id !== "sealing" || !event.target.open) { return; }
  bench.moved();
  const button = event.target.querySelector(".seal > .button");
  if (button) { button.focus(); }
}, true);

document.addEventListener("click", event => {
  const again = event.target.closest("a[data-column]");
  const open = event.target.closest("a[data-open]");
  if (event.ctrlKey || event.metaKey || event.shiftKey) { return; }
  if (again) {
    event.preventDefault();
    bench.go(bench.find(again.dataset.column));
    tray.refresh();
    at("bench").scrollIntoView({ block: "nearest" });
  } else if (open) {
    const fold = at(open.dataset.open).querySelector("details");
    if (fold) { fold.open = true; fold.querySelector("summary").focus(); }
  }
});

at("take-over").hidden = false;
at("last-again").addEventListener("click", event => {
  if (isMeantForLast(event)) { bench.go(bench.find(lastReading.row.column)); }
});
at("last-strike").addEventListener("click", event => {
  if (!isMeantForLast(event)) { return; }
  const box = at("last-strike-form");
  box.textContent = "";
  box.append(at("strike-template").content.cloneNode(true));
  const form = box.querySelector("form");
  form.action = form.action.replace(/strike\/0$/, `strike/${lastReading.id}`);
  form.querySelector("label").textContent = fill(words.strike_it, { typed: typed(lastReading.row, words) });
  box.hidden = false;
  box.querySelector(".buttons button").focus();
});
at("line-send").addEventListener("click", pump);
addEventListener("online", pump);
addEventListener("beforeunload", event => {
  if (kept.in("waiting").length) { event.preventDefault(); event.returnValue = ""; }
});

// A reading asked about by a page without script is in the form already.
const wanted = new URLSearchParams(location.search);
const first = bench.find(at("bench-column").value);
const isFresh = !document.querySelector(".no-script") && !at("bench-error").textContent.trim();
if (isFresh) {
  const isOpen = first && (wanted.has("column") || bench.isEmpty(first));
  const step = isOpen ? first : bench.nextEmpty();
  bench.go(step, { focus: Boolean(step) });
  if (wanted.has("slips") && bench.step) { bench.show("two"); bench.focus(); }
} else { bench.step = first; bench.mode = "number"; }
const early = window.feelerbookEarly.take();
for (const text of [...early.texts, early.unended].filter(Boolean)) { kept.add({ state: "stray", text, column: "", label: "" }); }
tray.refresh();
for (const number of kept.otherSheets()) {
  const words_ = fill(words.other_sheet, { sheet: number });
  const line = document.createElement("p");
  line.className = "message";
  line.append(link(newsUrl.replace(sheet, number), words_));
  at("slot").after(line);
}
page.dataset.ready = "";
pump();
setTimeout(poll, POLL);
