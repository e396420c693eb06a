// The sheet: a button for the browser's own printing, where there is a script.
"use strict";
document.querySelectorAll("[data-print]").forEach(button => {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
});
