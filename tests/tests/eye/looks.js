// What does not fit: width that scrolls sideways, what is too small to be touched, words that are cut off or lie over others.
const [wide] = arguments;
const out = [];
const shown = (e) => e.checkVisibility({ visibilityProperty: true }) && !e.closest(".vh, .skip");
const name = (e) => `${e.tagName.toLowerCase()} "${(e.textContent || e.id || e.name || "").trim().replace(/\s+/g, " ").slice(0, 40)}"`;

const width = document.documentElement.scrollWidth;
if (width > wide) {
  const over = [...document.querySelectorAll("body *")].filter((e) => shown(e) && e.getBoundingClientRect().right > wide + 0.5);
  out.push(`${width} px wide on ${wide}: ${over.slice(-3).map(name).join(", ")}`);
}

// Controls are 44 px high (our own rule); links within a sentence are as high as its lines (WCAG 2.2, 2.5.8 lets them).
for (const e of document.querySelectorAll("button, select, summary, textarea, input:not([type=hidden]), a[href]")) {
  const box = e.getBoundingClientRect();
  if (!shown(e) || !box.width) continue;
  const inSentence = e.tagName === "A" && getComputedStyle(e).display === "inline" && e.parentElement.textContent.trim() !== e.textContent.trim();
  if (!inSentence && (box.height < 44 || box.width < 24)) out.push(`${name(e)} is ${Math.round(box.width)} × ${Math.round(box.height)} px`);
}

// Each run of words with its lines; drawings scale with their width and say the same in words beside them.
const foot = document.getElementById("pages");
const lines = [];
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
for (let node = walk.nextNode(); node; node = walk.nextNode()) {
  const e = node.parentElement;
  if (!node.data.trim() || e.closest("svg, script, style, option, textarea") || foot?.contains(e) || !shown(e)) continue;
  const range = document.createRange();
  range.selectNodeContents(node);
  for (const r of range.getClientRects()) {
    if (r.width < 1) continue;
    // Letters do not fill their line: a fifth of its height above and below is air.
    lines.push({ e, top: r.top + r.height / 5, bottom: r.bottom - r.height / 5, left: r.left + 1, right: r.right - 1 });
    if (r.left < -0.5 || r.right > wide + 0.5) out.push(`${name(e)} leaves the page at the side`);
    for (let box = e; box && box !== document.body; box = box.parentElement) {
      const style = getComputedStyle(box);
      const b = box.getBoundingClientRect();
      if (style.overflowX !== "visible" && style.overflowX !== "auto" && (r.right > b.right + 1 || r.bottom > b.bottom + 1)) out.push(`${name(e)} is cut off`);
    }
  }
}
for (const [i, a] of lines.entries()) {
  for (const b of lines.slice(i + 1)) {
    if (a.e !== b.e && a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom) out.push(`${name(a.e)} lies over ${name(b.e)}`);
  }
}

// The foot stays in sight, so its words must fit their columns and it must leave room for the page.
for (const a of foot?.querySelectorAll("a") ?? []) if (a.scrollWidth > a.clientWidth + 1) out.push(`${name(a)} does not fit its column at the foot`);
if (foot && getComputedStyle(foot).position === "sticky" && foot.offsetHeight > innerHeight / 3) out.push(`the foot takes ${foot.offsetHeight} of ${innerHeight} px`);
return [...new Set(out)];
