// Before a page is printed its closed parts are opened and its charts are made to fit the sheet; afterwards all is as before.
"use strict";
(function () {
  let opened = [];

  addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details:not([open])")];
    opened.forEach((part) => { part.open = true; });
    document.querySelectorAll(".js-plotly-plot").forEach((graph) => {
      const drawn = graph.querySelector(".main-svg");
      if (!drawn) { return; }
      const width = drawn.getAttribute("width"), height = drawn.getAttribute("height");
      graph.style.setProperty("--shape", `${width} / ${height}`);
      graph.querySelectorAll(".main-svg").forEach((svg) => { svg.setAttribute("viewBox", `0 0 ${width} ${height}`); });
    });
  });

  addEventListener("afterprint", () => {
    opened.forEach((part) => { part.open = false; });
    opened = [];
    document.querySelectorAll(".main-svg").forEach((svg) => { svg.removeAttribute("viewBox"); });
  });
})();
