// Before a page is printed its charts are made to fit the sheet; drawers.js opens its closed parts.
"use strict";
(function () {
  addEventListener("beforeprint", () => {
    document.querySelectorAll(".js-plotly-plot").forEach((graph) => {
      const drawn = graph.querySelector(".main-svg");
      if (!drawn) { return; }
      const width = drawn.getAttribute("width"), height = drawn.getAttribute("height");
      graph.style.setProperty("--shape", `${width} / ${height}`);
      graph.querySelectorAll(".main-svg").forEach((svg) => { svg.setAttribute("viewBox", `0 0 ${width} ${height}`); });
    });
  });

  addEventListener("afterprint", () => {
    document.querySelectorAll(".main-svg").forEach((svg) => { svg.removeAttribute("viewBox"); });
  });
})();
