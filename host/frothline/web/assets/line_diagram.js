// Finds room on the line for the words of what is wrong: beside their mark, off each other, inside the drawing.
"use strict";
(function () {
  const WIDTH = 1200, EDGE = 4, BETWEEN = 8;
  const ROWS = [8, 36, 108]; // heights at which a word may stand where its own place is taken
  const ANOTHER_ROW = 40; // px sideways that a word may rather move than stand in another row
  const DRAWN = [[58, 42, 170, 106], [634, 38, 656, 54], [914, 46, 990, 102]]; // fan, inlet of the liquid, bucket
  const homes = new Map();
  let laid = "";

  function lay() {
    const svg = document.querySelector("svg.line");
    if (!svg || !svg.clientWidth) { return; }
    const lit = [...svg.querySelectorAll(".fault")].filter((mark) => mark.dataset.is).map((mark) => mark.querySelector("text"));
    const values = [...svg.querySelectorAll(".value")].filter((value) => value.textContent);
    const key = JSON.stringify([svg.clientWidth, lit.map((word) => word.dataset.live + word.textContent), values.map((value) => value.dataset.live + value.textContent.length)]);
    if (key === laid) { return; }
    laid = key;
    const taken = [...values, ...svg.querySelectorAll(".name")].map(box).concat(DRAWN);
    for (const word of lit) { taken.push(place(word, taken)); }
  }

  function box(text) {
    const b = text.getBBox();
    return [b.x, b.y, b.x + b.width, b.y + b.height];
  }

  function place(word, taken) {
    if (!homes.has(word)) { homes.set(word, [Number(word.getAttribute("x")), Number(word.getAttribute("y"))]); }
    const [x, y] = homes.get(word), b = word.getBBox(), half = b.width / 2 + EDGE;
    const up = Number(word.getAttribute("y")) - b.y, down = b.height - up;
    let best = null;
    for (const row of [y, ...ROWS]) {
      const near = taken.filter((one) => one[1] < row + down && one[3] > row - up);
      const free = (at) => at >= half && at <= WIDTH - half && near.every((one) => at + half <= one[0] + EDGE - BETWEEN / 2 || at - half >= one[2] - EDGE + BETWEEN / 2);
      const home = Math.min(Math.max(x, half), WIDTH - half);
      const tries = [home, ...near.flatMap((one) => [one[0] - half + EDGE - BETWEEN, one[2] + half - EDGE + BETWEEN])];
      for (const at of tries.filter(free)) {
        const cost = Math.abs(at - x) + (row === y ? 0 : ANOTHER_ROW);
        if (!best || cost < best.cost) { best = { at, row, cost }; }
      }
    }
    best = best || { at: Math.min(Math.max(x, half), WIDTH - half), row: y };
    word.setAttribute("x", best.at);
    word.setAttribute("y", best.row);
    return [best.at - b.width / 2, best.row - up, best.at + b.width / 2, best.row + down];
  }

  window.frothlineLine = { lay };
})();
