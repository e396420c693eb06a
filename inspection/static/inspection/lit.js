"use strict";
// The size of the field in hand is drawn heavy, and on a phone its view is the one seen:
// <form data-lights>, <figure class="sight"> with an <svg data-view> a view in it, and
// in each a <g data-size="names of fields">.
for (const form of document.querySelectorAll("[data-lights]")) {
  const sight = form.querySelector(".sight");
  const light = name => {
    let view = "";
    for (const size of sight.querySelectorAll("[data-size]")) {
      const isLit = size.dataset.size.split(" ").includes(name);
      size.classList.toggle("is-lit", isLit);
      if (isLit) view = size.closest("[data-view]").dataset.view;
    }
    if (view) sight.dataset.seen = view;
  };
  form.addEventListener("focusin", event => light(event.target.name || ""));
  form.addEventListener("focusout", () => light(""));
}
