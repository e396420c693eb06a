"use strict";
// What is open on the board stays open when the board is sent again.
let open = [];
document.addEventListener("htmx:beforeSwap", () => {
  open = Array.from(document.querySelectorAll("#board details[open]"), one => one.id);
});
document.addEventListener("htmx:afterSettle", () => {
  for (const id of open) document.getElementById(id)?.setAttribute("open", "");
});
