// The full-screen guide of a sweep. It covers the page only where somebody opened it: at the throttle. Other screens go on
// showing the curve as it grows.
"use strict";
(function () {
  const visit = window.frothline.visit;
  let phase = "off";
  let shown = visit.get("guided", "no") === "yes" ? "asked" : "no"; // "asked": as soon as the sweep runs

  function sweep(state) {
    phase = state;
    document.body.dataset.sweep = state;
    document.body.dataset.hand = { hold: "wait", steady: "wait" }[state] || "press";
    if (shown === "asked" && state !== "off" && state !== "done") { show("yes"); }
    if (shown === "yes" && state === "off") { show("no"); }
  }

  function show(wish) {
    const was = shown === "yes", is = wish === "yes";
    shown = wish;
    visit.set("guided", is ? "yes" : "no");
    if (was === is) { return; }
    document.body.dataset.guided = is ? "yes" : "no";
    for (const part of document.querySelectorAll("header, .page, .skip")) { part.inert = is; }
    const page = window.frothline.viewer.page;
    const next = is ? document.getElementById("sweep-next") : document.querySelector(`#page-${page} [data-guide]`);
    if (next) { next.focus({ preventScroll: true }); }
    if (!is) { window.frothlineCharts.resize(); }
  }

  // The server refused what was asked; a guide that was only asked for does not open later.
  function refused() { if (shown === "asked") { show("no"); } }

  function over() { return phase === "done"; }

  window.frothlineGuide = { sweep, show, refused, over };
})();
