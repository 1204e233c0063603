// Handles on the side view: dragging one moves its slider, which reports to the server.
"use strict";
(function () {
  let drag = null;

  document.addEventListener("pointerdown", (event) => {
    const handle = event.target.closest && event.target.closest(".fl-handle");
    const slider = handle && document.getElementById(handle.dataset.slider);
    if (!slider) { return; }
    event.preventDefault();
    const upright = handle.dataset.along === "y";
    drag = {
      slider, upright, from: upright ? event.clientY : event.clientX, value: Number(slider.value),
      perMm: Number(handle.dataset.perMm) * handle.ownerSVGElement.getScreenCTM().a,
    };
  });
  // The drawing is made again while one drags, so the pointer is followed over the whole page.
  document.addEventListener("pointermove", (event) => {
    if (!drag) { return; }
    event.preventDefault();
    const moved = drag.from - (drag.upright ? event.clientY : event.clientX);
    drag.slider.value = String(drag.value + moved / drag.perMm);
    drag.slider.dispatchEvent(new Event("input", { bubbles: true }));
  });
  const end = () => {
    if (!drag) { return; }
    drag.slider.dispatchEvent(new Event("change", { bubbles: true }));
    drag = null;
  };
  document.addEventListener("pointerup", end);
  document.addEventListener("pointercancel", end);
})();
