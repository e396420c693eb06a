// The block without network: what waits here, and on again when the network is back.
import { Kept } from "./kept.js";

const LOOK_EVERY = 3000;
const [, , sheet] = location.pathname.split("/");
const kept = new Kept(sheet);
const list = document.getElementById("waiting");

function show() {
  const rows = kept.in("waiting", "held", "stray");
  list.replaceChildren(...rows.map(row => {
    const line = document.createElement("li");
    const typed = row.answer || (row.high ? `${row.text} – ${row.high}` : row.text);
    line.textContent = row.label ? `${row.label}: ${typed}` : typed;
    return line;
  }));
  document.getElementById("some").hidden = !rows.length;
  document.getElementById("none").hidden = Boolean(rows.length);
}

async function look() {
  try {
    const answer = await fetch("/live", { cache: "no-store" });
    if (answer.ok) { location.reload(); }
  } catch (away) { /* Looked for again. */ }
}

document.getElementById("sheet").textContent = sheet;
show();
kept.whole.then(show);
setInterval(look, LOOK_EVERY);
