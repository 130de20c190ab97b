// Where the focus is, and whether it can be seen: a ring of at least 2 px that stands out 3:1 from what lies round it.
const e = document.activeElement;
if (!e || e === document.body) return null;
const channel = (c) => { c /= 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; };
const light = (rgb) => { const [r, g, b] = rgb.match(/[\d.]+/g).map(Number); return 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b); };
const ground = (n) => { for (; n; n = n.parentElement) { const c = getComputedStyle(n).backgroundColor; if (!/, 0\)$|transparent/.test(c)) return c; } return "rgb(255, 255, 255)"; };
const style = getComputedStyle(e);
const inside = parseFloat(style.outlineOffset) < 0;
const [a, b] = [light(style.outlineColor), light(ground(inside ? e : e.parentElement))];
const box = e.getBoundingClientRect();
const foot = document.getElementById("pages");
const bottom = foot && !foot.contains(e) && getComputedStyle(foot).position === "sticky" ? foot.getBoundingClientRect().top : innerHeight;
return {
  does: `${e.tagName} ${e.id || e.getAttribute("href") || e.name || e.form?.getAttribute("action") || e.parentElement.id} ${e.textContent.trim().replace(/\s+/g, " ").slice(0, 30)}`,
  place: [...document.querySelectorAll("a[href], button, summary, select, textarea, input:not([type=hidden])")].indexOf(e),
  ring: style.outlineStyle !== "none" ? parseFloat(style.outlineWidth) : 0,
  contrast: (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05),
  hidden: box.bottom <= 0 || box.top >= bottom,
};
