// Keys that come before the page is ready: remembered, not lost and not acted upon.
// Loaded ahead of the page; its script takes over, or the loaded page does without.
"use strict";
(function () {
  const keys = [];

  function remember(event) {
    const isCharacter = event.key.length === 1 && event.key !== " ";
    if (event.ctrlKey || event.metaKey || event.altKey) { return; }
    if (isCharacter || event.key === "Enter") {
      event.preventDefault();
      keys.push(event.key);
    }
  }
  function stop() { removeEventListener("keydown", remember, true); }

  addEventListener("keydown", remember, true);
  addEventListener("load", stop);
  window.feelerbookEarly = {
    /** Give the texts typed so far, an Enter ending each, and what no Enter ended; remember no more. */
    take() {
      stop();
      const texts = keys.map(key => key === "Enter" ? "\n" : key).join("").split("\n");
      const unended = texts.pop();
      return { texts: texts.filter(Boolean), unended };
    },
  };
}());
