// Watches what lies under a point, frame by frame: what it does, and where it is.
const [x, y] = arguments;
const under = () => {
  const e = document.elementFromPoint(x, y)?.closest("a, button, summary");
  if (!e) return { does: "nothing to press", top: 0 };
  return { does: `${e.tagName} ${e.getAttribute("href") || e.form?.getAttribute("action") || e.parentElement.id}`, top: e.getBoundingClientRect().top };
};
const first = under();
window.watched = { first: first.does, others: [], most: 0, frames: 0 };
const look = () => {
  const now = under();
  if (now.does !== first.does) window.watched.others.push(now.does);
  else window.watched.most = Math.max(window.watched.most, Math.abs(now.top - first.top));
  window.watched.frames += 1;
  window.watched.next = requestAnimationFrame(look);
};
cancelAnimationFrame(window.lastLook);
look();
return first.does;
