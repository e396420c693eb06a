// A form is sent once: a second tap before the answer would write everything twice.
"use strict";
(function () {
  // Whoever has waited so long for an answer may try again.
  const WAIT_MS = 5000;
  const sentAt = new WeakMap();

  addEventListener("submit", function (event) {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") { return; }
    if (performance.now() - (sentAt.get(form) ?? -WAIT_MS) < WAIT_MS) { event.preventDefault(); }
    else { sentAt.set(form, performance.now()); }
  });
  // Back on a page that the browser kept as it was, nothing is under way.
  addEventListener("pageshow", function (event) {
    if (event.persisted) { document.querySelectorAll("form").forEach(form => sentAt.delete(form)); }
  });
}());
