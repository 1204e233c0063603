// Parts of a page that are opened and closed. In a group only one is open at a time; its head stays where it was pressed.
// What the reader opens or closes stays so in this tab. A link to a place in a closed part opens it.
"use strict";
(function () {
  const PHONE = 720; // px, as in the style sheets
  const { visit } = window.frothline;
  if (innerWidth > PHONE) { document.querySelectorAll("details[data-open-wide]").forEach((e) => { e.open = true; }); }

  function known() { try { return JSON.parse(visit.get("drawers", "{}")) || {}; } catch { return {}; } }

  function remember(part) { if (part.id && part.classList.contains("drawer")) { visit.set("drawers", JSON.stringify({ ...known(), [part.id]: part.open })); } }

  for (const [id, open] of Object.entries(known())) {
    const part = document.getElementById(id);
    if (part && part.localName === "details" && !part.closest("[data-one-open]")) { part.open = open === true; }
  }

  function closeOthers(part) {
    const group = part.closest("[data-one-open]");
    if (!group) { return; }
    const head = part.querySelector("summary"), before = head.getBoundingClientRect().top;
    group.querySelectorAll("details[open]").forEach((other) => { if (other !== part) { other.open = false; } });
    scrollBy(0, head.getBoundingClientRect().top - before);
  }

  // The charts of a part that was closed have no size yet.
  document.addEventListener("toggle", (event) => { if (event.target.open) { window.frothlineCharts.resize(); } }, true);
  document.addEventListener("click", (event) => {
    const head = event.target.closest("summary"), link = event.target.closest("a[href^='#']");
    if (head && !head.parentElement.open) { closeOthers(head.parentElement); }
    if (head) { setTimeout(remember, 0, head.parentElement); }
    if (link) { reveal(link.getAttribute("href").slice(1)); }
  });
  addEventListener("hashchange", () => reveal(location.hash.slice(1)));

  function reveal(id) {
    const place = id && document.getElementById(id), part = place && place.closest("details.drawer");
    if (!part) { return; }
    closeOthers(part);
    part.open = true; // the browser scrolls to it afterwards
    remember(part);
    if (part === place) { part.querySelector("summary").focus({ preventScroll: true }); }
  }
})();
