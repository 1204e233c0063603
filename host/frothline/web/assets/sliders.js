// A slider reports while it is dragged, and lets the server set it afterwards. One with data-release reports at the end only.
"use strict";
(function () {
  const PACE = 120; // ms between two reports of a slider that is dragged
  let last = 0;
  document.addEventListener("input", (event) => {
    const slider = event.target;
    if (slider.type !== "range" || !slider.closest("[data-change]") || slider.dataset.release !== undefined || performance.now() - last < PACE) { return; }
    last = performance.now();
    slider.dispatchEvent(new Event("change", { bubbles: true }));
  });
  document.addEventListener("pointerup", () => {
    const slider = document.activeElement;
    if (slider && slider.type === "range") { setTimeout(() => slider.blur(), PACE); }
  });
})();
