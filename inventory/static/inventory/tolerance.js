// The moving tolerance: a slider beside the field; the page pairs again while it moves.
"use strict";
(function () {
  const form = document.getElementById("asked");
  const text = document.getElementById("id_tolerance");
  const place = document.getElementById("tolerance");
  if (!form || !text || !place) { return; }
  const MOST = 0.3, STEP = 0.005;

  const slider = document.createElement("input");
  Object.assign(slider, { type: "range", min: "0", max: String(MOST), step: String(STEP) });
  slider.setAttribute("aria-label", document.querySelector("label[for=id_tolerance]").textContent);
  slider.setAttribute("aria-valuetext", text.value + " mm");
  place.append(slider);

  /** What is typed as millimetres, where it is a plain number. */
  function typed() {
    const plain = text.value.trim().replace(",", ".");
    return /^\d*\.?\d+$/.test(plain) ? Number(plain) : null;
  }
  function follow() {
    const value = typed();
    if (value === null) { return; }
    slider.max = String(Math.max(MOST, value));
    slider.value = String(value);
    slider.setAttribute("aria-valuetext", text.value + " mm");
  }
  function written(value) {
    return value.toFixed(3).replace(/0$/, "");
  }
  slider.addEventListener("input", function () {
    text.value = written(Number(slider.value));
    slider.setAttribute("aria-valuetext", text.value + " mm");
    form.dispatchEvent(new CustomEvent("moved"));
  });
  // The slider has no name: what is sent is the field, already sent while it moved.
  slider.addEventListener("change", event => event.stopPropagation());
  text.addEventListener("input", follow);
  follow();
}());
