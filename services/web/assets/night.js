// Live pieces of the opening page. The page reads and works without this file.
const live = document.querySelector("main[data-live]");
const lost = document.getElementById("lost");
const NAME = "hatchwarden-by";

// ---- the name of the person, kept on this phone for the next form
const remembered = () => { try { return localStorage.getItem(NAME) || ""; } catch { return ""; } };
const remember = (name) => { try { if (name) localStorage.setItem(NAME, name); } catch { /* private window */ } };
const nameForms = (root) => {
  for (const field of root.querySelectorAll('input[name="by"]')) if (!field.value) field.value = remembered();
};

// ---- what can be pressed, and where it is
const CONTROLS = "a[href], button, summary, select, textarea, input:not([type=hidden])";
// The same before and after its piece was drawn anew: by what it does, and which of those it is.
function controls() {
  const [found, times] = [new Map(), new Map()];
  for (const e of document.querySelectorAll(CONTROLS)) {
    const box = e.getBoundingClientRect();
    if (!box.width) continue;
    const does = `${e.tagName} ${e.id || e.getAttribute("href") || e.form?.getAttribute("action") || e.textContent}`;
    times.set(does, (times.get(does) || 0) + 1);
    found.set(`${does} ${times.get(does)}`, { e, box, says: e.value ?? "" });
  }
  return found;
}
const inSight = ({ box }) => box.bottom > 0 && box.top < innerHeight;
const far = ({ x, y }, box) =>
  Math.hypot(Math.max(box.left - x, 0, x - box.right), Math.max(box.top - y, 0, y - box.bottom));

// ---- the hand: when it was last there, and where
const NEAR = 1500; // ms in which a press may still be on its way
const AWAY = 4000; // ms after which nobody is taken to be about to press
const SCROLLED = 40; // px from the top, below which the page is held where it is
const hand = { at: -Infinity, x: innerWidth / 2, y: innerHeight / 2 };
const handWithin = (ms) => performance.now() - hand.at < ms;
for (const kind of ["pointerdown", "pointerup", "pointermove", "touchmove", "wheel"]) {
  addEventListener(kind, (e) => {
    // A mouse that only moves is not about to press, or it would keep all news back.
    if (kind !== "pointermove") hand.at = performance.now();
    const at = e.touches?.[0] ?? e;
    [hand.x, hand.y] = [at.clientX, at.clientY];
  }, { passive: true });
}

// ---- swapping pieces by id, without moving focus
const waiting = new Map();
let later = 0;

// A new alarm comes below those that stand already: none of their buttons moves.
function placeFor(place, added) {
  const gone = place.querySelector(":scope > .gone, :scope > .gonehead");
  return added.matches("article:not(.gone), #alarms-gone") ? gone : null;
}
function merge(place, fresh) {
  // The element with the focus stays; its siblings with an id are renewed round it.
  const news = new Map([...fresh.children].filter((n) => n.id).map((n) => [n.id, n]));
  for (const old of [...place.children]) {
    const holds = old.contains(document.activeElement);
    const next = news.get(old.id);
    news.delete(old.id);
    if (holds || (next && next.outerHTML === old.outerHTML)) continue;
    if (next) old.replaceWith(next); else if (old.id) old.remove();
  }
  // One that has gone stays where it stood, and says so itself; the heading is for when no other stands.
  if (place.querySelector(":scope > article:not(.gone)")) news.delete("alarms-gone");
  for (const added of news.values()) place.insertBefore(added, placeFor(place, added));
}

// Draws one piece; gives back what undoes it, or nothing where nothing changed.
function put(id, html) {
  const place = document.getElementById(id);
  const template = document.createElement("template");
  template.innerHTML = html;
  const fresh = template.content;
  if (!place || place.innerHTML === template.innerHTML) { waiting.delete(id); return null; }
  nameForms(fresh);
  const old = [...place.childNodes];
  const open = [...place.querySelectorAll("details[open][id]")].map((d) => d.id);
  const focused = place.contains(document.activeElement);
  const piecewise = id === "status" || (id === "alarms" && place.querySelector("article") && fresh.querySelector("article"));
  if (focused || piecewise) merge(place, fresh);
  else place.replaceChildren(fresh);
  if (!focused) waiting.delete(id); // the whole of it, once the focus has gone
  for (const d of open) document.getElementById(d)?.setAttribute("open", "");
  return focused ? null : () => { place.replaceChildren(...old); waiting.set(id, html); };
}

// Holds the page at the control that is nearest to the hand; tells whether another one in sight has moved.
function hold(before) {
  const seen = [...before].filter(([, c]) => inSight(c));
  const after = controls();
  const nearest = seen.filter(([name]) => after.has(name)).sort(([, a], [, b]) => far(hand, a.box) - far(hand, b.box))[0];
  const by = nearest ? after.get(nearest[0]).box.top - nearest[1].box.top : 0;
  const was = scrollY;
  if (was > SCROLLED && by) scrollBy({ top: by, behavior: "instant" });
  const scrolled = scrollY - was;
  const moved = ([name, c]) => {
    const now = after.get(name);
    return !now || Math.abs(now.box.top - scrolled - c.box.top) > 1 || Math.abs(now.box.left - c.box.left) > 1;
  };
  return { moved: seen.some(moved), back: () => scrollBy({ top: -scrolled, behavior: "instant" }) };
}

function settle() {
  clearTimeout(later);
  if (!waiting.size) return;
  // Nothing moves under a thumb: wait until the hand has been off the glass for a moment.
  if (handWithin(NEAR)) { later = setTimeout(settle, 500); return; }
  const before = controls();
  const undo = [...waiting].map(([id, html]) => put(id, html)).filter(Boolean);
  const held = hold(before);
  if (held.moved && handWithin(AWAY)) {
    held.back();
    for (const back of undo) back();
    later = setTimeout(settle, 500);
  }
}
addEventListener("focusout", () => setTimeout(settle, 0));

// ---- the first of the pages at the foot tells of alarms that are not in sight
const [tab] = document.querySelectorAll("#pages a");
function call(html) {
  const template = document.createElement("template");
  template.innerHTML = html;
  const calling = template.content.querySelectorAll("[data-calls]").length;
  tab.classList.toggle("called", calling > 0);
  tab.textContent = calling === 0 ? "Night" : calling === 1 ? "1 alarm" : `${calling} alarms`;
}

// ---- the stream, and honesty when it is lost
let heard = performance.now();
let clock = "";
function alive() {
  heard = performance.now();
  if (lost.hidden) return;
  lost.hidden = true;
  lost.textContent = "";
}
function watchSilence() {
  if (performance.now() - heard < 31000) return;
  if (!lost.hidden) return;
  lost.textContent = `Not heard from the service${clock ? ` since ${clock}` : ""}. What you see may be old.`;
  lost.hidden = false;
}
// A session that has ended leads to signing in, and from there back here.
async function signedOut() {
  try {
    if ((await fetch("/api/v1/session")).status === 401) location.reload();
  } catch { /* the service is away: that is told already */ }
}
function listen() {
  const source = new EventSource(live.dataset.live);
  source.addEventListener("room", (e) => {
    alive();
    const news = Object.entries(JSON.parse(e.data));
    for (const [id, html] of news) {
      waiting.set(id, html);
      // Words for those who listen move nothing; they are not kept back.
      if (id === "status") put(id, html);
      if (id === "alarms" && tab) call(html);
    }
    settle();
  });
  source.addEventListener("beat", (e) => { clock = e.data; alive(); });
  source.addEventListener("error", () => {
    // A refused connection shows at once; a silent one is caught by the clock.
    if (performance.now() - heard > 4000) heard = Math.min(heard, performance.now() - 31000);
    watchSilence();
    if (source.readyState === EventSource.CLOSED) {
      signedOut();
      setTimeout(listen, 5000);
    }
  });
}

// ---- acknowledge without leaving the page; the plain form is the fallback
async function acknowledge(event) {
  const form = event.target.closest("form[data-acknowledge]");
  if (!form) {
    const name = event.target.querySelector?.('input[name="by"]');
    if (name) remember(name.value.trim());
    return;
  }
  event.preventDefault();
  const button = form.querySelector("button");
  if (button.getAttribute("aria-disabled") === "true") return;
  button.setAttribute("aria-disabled", "true");
  try {
    const answer = await fetch(`/api/v1/alarms/${form.dataset.acknowledge}/acknowledge`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ by: form.elements.by.value }),
    });
    if (!answer.ok) throw new Error(answer.statusText);
    button.textContent = "Acknowledged";
    document.getElementById("done").textContent = "Acknowledged.";
  } catch {
    button.removeAttribute("aria-disabled");
    form.submit();
  }
}

// ---- a sound for as long as somebody is called for; browsers allow one only after a touch
const sound = document.getElementById("sound");
let audio = null;
function tone(at, pitch) {
  const [voice, level] = [audio.createOscillator(), audio.createGain()];
  voice.frequency.value = pitch;
  level.gain.setValueAtTime(0.0001, at);
  level.gain.exponentialRampToValueAtTime(0.4, at + 0.03);
  level.gain.exponentialRampToValueAtTime(0.0001, at + 0.5);
  voice.connect(level).connect(audio.destination);
  voice.start(at);
  voice.stop(at + 0.6);
}
const ring = () => [440, 554, 659].forEach((pitch, i) => tone(audio.currentTime + 0.4 * i, pitch));
const sounds = () => sound.getAttribute("aria-pressed") === "true";
function callOut() {
  if (sounds() && document.querySelector("#alarms [data-calls]")) ring();
}
async function switchSound() {
  const on = !sounds();
  audio ??= new AudioContext();
  await audio.resume();
  sound.setAttribute("aria-pressed", String(on));
  sound.textContent = `Sound on this device: ${on ? "on, as you have just heard" : "off"}`;
  if (on) ring();
}
if (live && sound && typeof AudioContext === "function") {
  sound.hidden = false;
  sound.addEventListener("click", switchSound);
  setInterval(callOut, 8000);
}

nameForms(document);
addEventListener("submit", acknowledge);
if (live) {
  // The page holds itself where it is; the browser's own way knows nothing of hands.
  document.documentElement.style.overflowAnchor = "none";
  clock = live.dataset.clock || "";
  listen();
  setInterval(watchSilence, 2000);
}
// A form in a folded part that is linked to opens itself.
const target = location.hash && document.getElementById(location.hash.slice(1));
if (target && target.tagName === "DETAILS") target.open = true;
