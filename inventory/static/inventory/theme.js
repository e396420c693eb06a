// The kept choice of lights: read before the first paint, changed in the footer.
"use strict";
(function () {
  const KEY = "feelerbook-lights";
  const root = document.documentElement;

  function kept() {
    try { return localStorage.getItem(KEY) || ""; } catch (refused) { return ""; }
  }
  function keep(choice) {
    try {
      if (choice) { localStorage.setItem(KEY, choice); } else { localStorage.removeItem(KEY); }
    } catch (refused) { /* A browser that stores nothing still changes this page. */ }
  }
  function show(choice) {
    if (choice === "light" || choice === "dark") { root.dataset.theme = choice; }
    else { delete root.dataset.theme; }
    document.querySelectorAll("[data-theme-choice]").forEach(function (button) {
      button.setAttribute("aria-pressed", String(button.dataset.themeChoice === choice));
    });
  }

  show(kept());
  document.addEventListener("DOMContentLoaded", function () {
    const switcher = document.getElementById("theme");
    if (switcher) { switcher.hidden = false; }
    show(kept());
  });
  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-theme-choice]");
    if (!button) { return; }
    keep(button.dataset.themeChoice);
    show(button.dataset.themeChoice);
  });
  addEventListener("storage", function (event) {
    if (event.key === KEY || event.key === null) { show(kept()); }
  });
}());
