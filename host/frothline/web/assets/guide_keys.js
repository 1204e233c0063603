// Esc and Back close the full-screen guide.
"use strict";
(function () {
  const body = document.body;
  const open = () => body.dataset.guided === "yes" && body.dataset.sweep !== "off";
  const close = () => { const button = document.getElementById("sweep-look"); if (button) { button.click(); } };

  // An entry in the history while the guide is open, so that Back leaves the guide and not the page.
  let entered = false;
  new MutationObserver(() => {
    if (open() && !entered) {
      entered = true;
      history.pushState({ guide: true }, "", location.href);
    } else if (!open() && entered) {
      entered = false;
      if (history.state && history.state.guide) { history.back(); }
    }
  }).observe(body, { attributes: true, attributeFilter: ["data-guided", "data-sweep"] });

  addEventListener("popstate", () => {
    if (!entered) { return; }
    entered = false;
    close();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && open()) { close(); }
  });
})();
