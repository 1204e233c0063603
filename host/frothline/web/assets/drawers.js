// Parts of a page that are opened and closed. In a group only one is open at a time; its head stays where it was pressed.
"use strict";
(function () {
  const PHONE = 720; // px, as in the style sheets
  if (innerWidth > PHONE) { document.querySelectorAll("details[data-open-wide]").forEach((e) => { e.open = true; }); }

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
    const part = link && document.getElementById(link.getAttribute("href").slice(1));
    if (!part || part.localName !== "details") { return; }
    closeOthers(part);
    part.open = true; // the browser scrolls to it afterwards
    part.querySelector("summary").focus({ preventScroll: true });
  });
})();
