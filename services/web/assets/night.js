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

// ---- swapping pieces by id, without moving focus
const waiting = new Map();
let touched = -Infinity;
let later = 0;
const handOn = () => performance.now() - touched < 1500;

function merge(place, fresh) {
  // The element with the focus stays; its siblings with an id are renewed round it.
  const news = new Map([...fresh.children].filter((n) => n.id).map((n) => [n.id, n]));
  for (const old of [...place.children]) {
    const holds = old.contains(document.activeElement);
    const next = news.get(old.id);
    news.delete(old.id);
    if (holds) continue;
    if (next) old.replaceWith(next); else if (old.id) old.remove();
  }
  for (const added of news.values()) place.append(added);
}

function put(id, html) {
  const place = document.getElementById(id);
  if (!place) return;
  const template = document.createElement("template");
  template.innerHTML = html;
  nameForms(template.content);
  const open = [...place.querySelectorAll("details[open][id]")].map((d) => d.id);
  if (place.contains(document.activeElement)) {
    waiting.set(id, html); // the whole of it, once the focus has gone
    merge(place, template.content);
  } else {
    waiting.delete(id);
    place.replaceChildren(template.content);
  }
  for (const d of open) document.getElementById(d)?.setAttribute("open", "");
}

function settle() {
  clearTimeout(later);
  // Nothing moves under a thumb: wait until the hand has been off the glass for a moment.
  if (handOn()) { later = setTimeout(settle, 500); return; }
  for (const [id, html] of [...waiting]) put(id, html);
}
for (const kind of ["pointerdown", "pointerup", "touchmove"]) {
  addEventListener(kind, () => { touched = performance.now(); }, { passive: true });
}
addEventListener("focusout", () => setTimeout(settle, 0));

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
    for (const [id, html] of Object.entries(JSON.parse(e.data))) waiting.set(id, html);
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
    document.getElementById("status").textContent = "Acknowledged.";
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
  clock = live.dataset.clock || "";
  listen();
  setInterval(watchSilence, 2000);
}
// A form in a folded part that is linked to opens itself.
const target = location.hash && document.getElementById(location.hash.slice(1));
if (target && target.tagName === "DETAILS") target.open = true;
