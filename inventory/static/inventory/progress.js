// A file being read: once a form sends the page away, it asks no more, and heeds no answer.
"use strict";
(function () {
  let leaves = false;
  // What htmx sends keeps the page; only a form that the browser sends leaves it.
  addEventListener("submit", function (event) { leaves ||= !event.defaultPrevented; });
  addEventListener("pageshow", function () { leaves = false; });
  for (const step of ["htmx:beforeRequest", "htmx:beforeOnLoad"]) {
    document.addEventListener(step, function (event) { if (leaves) { event.preventDefault(); } });
  }
}());
