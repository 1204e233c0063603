// The socket to the server: the page sends its state, the server answers with a message for it. A socket of our own,
// because the page framework's store keeps every value that it has ever held.
"use strict";
(function () {
  const PATIENCE = 5000; // ms without a message after which the program counts as gone
  const AGAIN = 1000; // ms from one attempt to connect to the next
  const SOON = 200; // ms to the first attempt after a connection that worked
  const SLEPT = 2500; // ms between two looks at the clock that mean: the page itself slept or was busy
  const HIDDEN = 1000; // ms between two messages to a page that nobody sees; its alarms still sound
  const SILENT = "no connection to the program";
  const { viewer } = window.frothline, { put, DASH } = window.frothlineDrawing;
  let socket = null, heard = performance.now(), drawing = Promise.resolve(), ready = false;

  function connect() {
    const { open, early } = window.frothlineSocket, first = begun(), mine = first || open();
    let worked = false;
    socket = mine;
    if (!first) {
      mine.onopen = () => {
        viewer.seen = 0;
        send(viewer);
      };
    }
    mine.onmessage = (event) => {
      worked = true;
      const message = JSON.parse(event.data);
      drawing = drawing.then(() => take(message)).catch((error) => console.error(error)).then(async () => {
        heard = performance.now();
        if (document.hidden) { await seenAgain(); }
        if (socket !== mine) { return; }
        viewer.seen = message.number;
        send(viewer);
      });
    };
    mine.onclose = () => { if (socket === mine) { lost(worked); } };
    if (first) {
      early.splice(0).forEach(mine.onmessage);
      window.frothline.measured(); // the head of the document may have had no width yet
    }
  }

  // The socket that the head of the document has opened, which sends the page's state by itself; only once, and only if it
  // has not failed meanwhile.
  function begun() {
    const first = window.frothlineSocket.first;
    window.frothlineSocket.first = null;
    return first && first.readyState <= WebSocket.OPEN ? first : null;
  }

  async function take(message) {
    heard = performance.now();
    if (document.body.dataset.silent) { returned(); }
    await window.frothlineDrawing.draw(message);
    // What the first figures do not need is loaded once they are seen: loading and running it would delay their frame.
    if (!ready) { await window.frothlineDrawing.painted(); }
    ready = true;
    window.frothlineCharts.expect();
    window.frothlineFramework.load();
  }

  function seenAgain() {
    return new Promise((resolve) => {
      setTimeout(resolve, HIDDEN);
      document.addEventListener("visibilitychange", resolve, { once: true });
    });
  }

  function send(state) {
    if (socket && socket.readyState === WebSocket.OPEN) { socket.send(JSON.stringify(state)); }
  }

  function lost(worked) {
    socket = null;
    if (!worked) { gone(); }
    setTimeout(connect, worked ? SOON : AGAIN);
  }

  // --- when nothing comes --------------------------------------------------------------------------------------

  let awake = performance.now();
  setInterval(() => {
    const now = performance.now();
    if (now - awake > SLEPT) { heard = now; }
    awake = now;
    if (document.hidden || now - heard < PATIENCE) { return; }
    heard = now;
    gone();
    if (socket) {
      const silent = socket;
      lost(true);
      silent.close();
    }
  }, 1000);

  // Nothing is known any more: no figure stays as if it were live, and what needs the program can not be pressed.
  const stopped = [];
  function gone() {
    if (document.body.dataset.silent) { return; }
    document.body.dataset.silent = "yes";
    viewer.have = {}; // what comes next is drawn whole
    document.querySelectorAll("[data-live]").forEach((e) => { const text = unknown(e); if (text !== null) { put(e, text); } });
    document.querySelectorAll("[data-state=link]").forEach((e) => { e.dataset.is = "lost"; });
    document.querySelectorAll("[data-state^=fault-], [data-state^=part-], [data-state=recording], [data-state=strip], [data-state=run-phase]").forEach((e) => { e.dataset.is = ""; });
    document.querySelectorAll("[data-table]").forEach((e) => { e.replaceChildren(); delete e.dataset.drawn; });
    document.querySelectorAll("[data-rows=more] td, [data-rows=views] td, #sample .seconds").forEach((e) => { e.textContent = DASH; });
    document.querySelectorAll("main button:not([data-show-all]):not([data-choose]):not([data-also]):not(#sweep-look):not(:disabled)").forEach((e) => {
      e.disabled = true;
      stopped.push(e);
    });
    document.getElementById("dot").dataset.is = "still";
    window.frothlineSound.gone();
  }

  // The text of an element once nothing is known; null where its words do not depend on the moment.
  function unknown(element) {
    const key = element.dataset.live;
    if (key === "link") { return "Lost connection to the Frothline program. Restart it; this page reconnects by itself"; }
    if (element.classList.contains("number")) { return DASH; }
    if (key.endsWith("-under") || key === "over-title" || key === "sweep-why") { return SILENT; }
    if (key === "strip") { return `${DASH} ${SILENT}`; }
    if (key.startsWith("line-")) { return element.textContent ? DASH : ""; }
    if (/^(fault|part)-|^(losses|simulated|over-do|sweep-missing)$/.test(key)) { return ""; }
    return { "run-agreement": "", "run-phase": `Not known: ${SILENT}`, "run-clock": DASH, recording: "recording: not known", "sweep-pressure": DASH, "sweep-instruction": "wait" }[key] ?? null;
  }

  function returned() {
    document.body.removeAttribute("data-silent");
    stopped.splice(0).forEach((e) => { e.disabled = false; });
  }

  window.frothlineConnection = { send };
  connect();
})();
