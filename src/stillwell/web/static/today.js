// Keeps Today up to date: the server sends the pieces that changed, and a beat in between.

const QUIET_S = 25; // two beats and a half
const AGAIN_MS = 5000;
const pieces = new Map();
const lost = document.getElementById("lost");
const asOf = document.getElementById("as-of");
let heard = Date.now();

document.getElementById("renews").textContent = "It renews itself.";

let news = listen();

function listen() {
  const source = new EventSource("/today/live");
  source.addEventListener("message", (message) => {
    const { as_of, pieces: changed } = JSON.parse(message.data);
    heard = Date.now();
    if (asOf && as_of) asOf.textContent = as_of;
    for (const [name, html] of Object.entries(changed)) put(name, html);
    tell();
  });
  source.addEventListener("error", () => {
    if (source.readyState === EventSource.CLOSED) setTimeout(again_or_out, AGAIN_MS);
  });
  return source;
}

// The server answered with something else than news: it is out of order, or whoever looks is no longer signed in.
async function again_or_out() {
  const answer = await fetch("/today.json").catch(() => null);
  if (answer?.status === 401 || answer?.status === 403) location.reload();
  else news = listen();
}

// A piece is put in only when it differs, and never takes the place where somebody is from under them.
function put(name, html) {
  const place = document.getElementById(name);
  if (!place || pieces.get(name) === html) return;
  const first = !pieces.has(name);
  pieces.set(name, html);
  if (first && place.innerHTML.trim() === html.trim()) return;
  const open = [...place.querySelectorAll("details")].map((one) => one.open);
  const at = place.contains(document.activeElement) ? document.activeElement : null;
  place.innerHTML = html;
  place.querySelectorAll("details").forEach((one, index) => { one.open = open[index] ?? false; });
  if (at) same(place, at)?.focus({ preventScroll: true });
}

function same(place, at) {
  if (at.value) return [...place.querySelectorAll("button")].find((one) => one.value === at.value);
  return at.tagName === "SUMMARY" ? place.querySelector("summary") : null;
}

function tell() {
  const silent = Math.max(0, (Date.now() - heard) / 1000);
  const gone = silent > QUIET_S || (news.readyState !== EventSource.OPEN && silent > 5);
  if (gone) {
    const minutes = Math.floor(silent / 60);
    const since = minutes < 1 ? "less than a minute" : minutes === 1 ? "1 minute" : minutes < 120 ? `${minutes} minutes` : `${Math.floor(minutes / 60)} hours`;
    const said = `No connection. What you see is ${since} old${asOf ? `: it stood so on ${asOf.textContent}` : ""}.`;
    if (lost.textContent !== said) lost.textContent = said;
  }
  lost.hidden = !gone;
  document.body.classList.toggle("old", gone);
}

setInterval(tell, 1000);
document.addEventListener("visibilitychange", tell);
window.addEventListener("pagehide", () => news.close());
window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
