// Draws a message of the server. No formula is here: texts come rounded and in the reader's units.
"use strict";
(function () {
  const DASH = "–";
  const UNPAINTED = 500; // ms without a painted frame after which a page counts as unseen
  const pace = { still: 700 }; // ms without a new frame after which the dot on the line counts as still
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)");
  const frames = { count: null, at: -1e9, moved: 0 };
  const { viewer, drawn } = window.frothline;

  async function draw(message) {
    await window.frothlineForms.released();
    texts(message.texts);
    for (const [key, state] of Object.entries(message.states)) {
      document.querySelectorAll(`[data-state="${key}"]`).forEach((e) => { if (e.dataset.is !== state) { e.dataset.is = state; } });
    }
    window.frothlineLine.lay();
    Object.entries(message.bars).forEach(([key, share]) => bar(key, share));
    Object.entries(message.tables).forEach(([key, rows]) => table(key, rows));
    window.frothlineGuide.sweep(message.states.sweep);
    dot(message.frames);
    window.frothlineSound.tones(message.tones);
    window.frothlineBlocks.draw(message.blocks, viewer.have);
    window.frothlineBlocks.lock(message.states.access);
    for (const [key, picture] of Object.entries(message.figures)) { await window.frothlineCharts.draw(key, picture); }
    drawn.ticks += 1;
  }

  // Resolves when the browser has painted what was drawn before. A page that nobody sees paints nothing and does not wait.
  function painted() {
    return new Promise((resolve) => {
      if (document.hidden) { return resolve(); }
      requestAnimationFrame(() => setTimeout(resolve));
      setTimeout(resolve, UNPAINTED);
    });
  }

  function texts(all) {
    for (const [key, text] of Object.entries(all)) {
      document.querySelectorAll(`[data-live="${key}"]`).forEach((e) => { put(e, text); });
    }
  }

  function put(element, text) {
    if (element.textContent === text) { return; }
    element.textContent = text;
    if (element.classList.contains("number")) { element.toggleAttribute("data-unknown", text === DASH); }
  }

  function bar(key, share) {
    const inner = document.querySelector(`[data-bar="${key}"]`);
    if (inner) {
      inner.style.transform = `scaleX(${share})`;
      inner.parentElement.setAttribute("aria-valuenow", Math.round(share * 100));
    }
  }

  function table(key, rows) {
    const body = document.querySelector(`[data-table="${key}"]`);
    if (!body) { return; }
    const headed = !body.parentElement.tHead;
    while (body.rows.length > rows.length) { body.deleteRow(-1); }
    rows.forEach((cells, i) => {
      const row = body.rows[i] || body.insertRow();
      cells.forEach((text, j) => {
        const head = j === 0 && text !== ""; // an empty head would be announced without words
        let cell = row.cells[j];
        if (!cell || (cell.localName === "th") !== head) {
          const made = document.createElement(head ? "th" : "td");
          if (head) { made.scope = "row"; }
          if (cell) { cell.replaceWith(made); } else { row.appendChild(made); }
          cell = made;
        }
        if (cell.textContent !== text) { cell.textContent = text; }
      });
    });
    body.classList.toggle("headed", headed);
    body.dataset.drawn = "yes";
  }

  // The dot is moved by frames and by nothing else. Two messages may come between two frames of a slow rig: the dot counts
  // as still only after a while without one.
  function dot(count) {
    const way = document.getElementById("air"), mark = document.getElementById("dot"), now = performance.now();
    if (frames.count !== null && count > frames.count) {
      const length = way.getTotalLength();
      frames.moved = (frames.moved + (calm.matches ? 0 : 11)) % length;
      const at = way.getPointAtLength(frames.moved);
      mark.setAttribute("cx", at.x);
      mark.setAttribute("cy", at.y);
      mark.dataset.is = "moving";
      frames.at = now;
    } else if (frames.count !== null && now - frames.at > pace.still) { mark.dataset.is = "still"; }
    frames.count = count;
  }

  window.frothlineDrawing = { draw, painted, put, pace, DASH };
})();
