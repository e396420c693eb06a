/*
A slider beside each limit that is typed.  The typed number is what counts; without
this script it is all there is.  A move of the slider is told to the form as if it
had been typed, and htmx asks for the trial again.
*/
"use strict";

for (const place of document.querySelectorAll(".sliders")) {
  for (const name of ["lower", "upper"]) {
    const typed = place.closest("form").elements[name];
    if (typed && place.dataset.low) addSlider(place, typed);
  }
}

function addSlider(place, typed) {
  const {low, high, step, words} = place.dataset;
  const slider = document.createElement("input");
  slider.type = "range";
  Object.assign(slider, {min: low, max: high, step});
  slider.value = numberIn(typed.value) ?? low;
  const label = document.querySelector(`label[for="${typed.id}"]`).textContent.trim();
  slider.setAttribute("aria-label", `${label}: ${words}`);
  const row = document.createElement("div");
  const shown = document.createElement("span");
  shown.textContent = label;
  shown.setAttribute("aria-hidden", "true");
  row.append(shown, slider);
  const places = (step.split(".")[1] || "").length;
  slider.addEventListener("input", () => {
    typed.value = Number(slider.value).toFixed(places);
  });
  typed.addEventListener("input", () => {
    const value = numberIn(typed.value);
    if (value !== null) slider.value = value;
  });
  place.append(row);
}

/* What a bare number means; one with a mark is left to the server. */
function numberIn(text) {
  const bare = text.trim().replace("\u2212", "-").replace(",", ".");
  return /^-?\d*\.?\d+$/.test(bare) ? Number(bare) : null;
}
