// Keeps what is read out: each piece that is added to a live region.
window.readOut = [];
new MutationObserver((all) => {
  for (const change of all) for (const n of change.addedNodes) if (n.textContent.trim()) window.readOut.push(n.textContent.trim());
}).observe(document.getElementById("status"), { childList: true, subtree: true, characterData: true });
