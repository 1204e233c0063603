// Draws what the server sends. No formula stands here: texts come rounded and in the reader's units.
"use strict";
(function () {
  const PAGES = JSON.parse(document.body.dataset.pages); // path: name
  const DASH = "–", SILENT = "the program does not answer";
  const PATIENCE = 5000; // ms without a message before the page asks by itself
  const dark = window.matchMedia("(prefers-color-scheme: dark)");
  const coarse = window.matchMedia("(pointer: coarse)");
  const still = window.matchMedia("(prefers-reduced-motion: reduce)");
  const keep = {
    get(key, otherwise) { try { return localStorage.getItem("frothline-" + key) || otherwise; } catch { return otherwise; } },
    set(key, value) { try { localStorage.setItem("frothline-" + key, value); } catch { /* private window: kept for this visit */ } },
  };
  const viewer = {
    page: PAGES[location.pathname] || "source",
    system: keep.get("system", "metric"),
    scheme: dark.matches ? "dark" : "light",
    touch: coarse.matches,
    columns: columns(),
    seconds: Number(keep.get("seconds", "30")),
    have: {},
    wish: window.frothlineBlocks.kept(),
    seen: 0,
  };
  const drawn = { frames: null, moved: 0, sweep: "off", ranges: {}, zoomed: {}, drawing: {}, paces: {}, ticks: 0 };
  let heard = performance.now();
  const sound = window.frothlineSound;
  let guided = "no";
  try { if (sessionStorage.getItem("frothline-guided") === "yes") { guided = "asked"; } } catch { /* no such store */ }

  function columns() { return Math.max(60, Math.min(400, Math.round(innerWidth / 4))); }

  function tell() {
    if (window.dash_clientside && window.dash_clientside.set_props) {
      window.dash_clientside.set_props("viewer", { data: { ...viewer, have: { ...viewer.have } } });
    }
  }

  // --- one message ---------------------------------------------------------------------------------------------

  async function draw(message) {
    if (!message) { return; }
    if (!drawn.ticks) { settings(); }
    heard = performance.now();
    if (document.body.dataset.silent) { returned(); }
    await window.frothlineBlocks.released();
    texts(message.texts);
    for (const [key, state] of Object.entries(message.states)) {
      document.querySelectorAll(`[data-state="${key}"]`).forEach((e) => { if (e.dataset.is !== state) { e.dataset.is = state; } });
    }
    window.frothlineLine.lay();
    Object.entries(message.bars).forEach(([key, share]) => bar(key, share));
    Object.entries(message.tables).forEach(([key, rows]) => table(key, rows));
    sweep(message.states.sweep);
    dot(message.frames);
    sound.tones(message.tones);
    window.frothlineBlocks.draw(message.blocks, viewer.have);
    for (const [key, picture] of Object.entries(message.figures)) { await unhurried(key, picture); }
    drawn.ticks += 1;
    if (message.number) { // one that was pushed; one that the page asked for carries no number
      viewer.seen = message.number;
      if (polling) { poll(false); }
    }
    tell();
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
        let cell = row.cells[j];
        if (!cell) {
          cell = document.createElement(j === 0 ? "th" : "td");
          if (j === 0) { cell.scope = "row"; }
          row.appendChild(cell);
        }
        if (cell.textContent !== text) { cell.textContent = text; }
      });
    });
    body.classList.toggle("headed", headed);
  }

  // The large instructions take the whole page only where somebody asked for them: at the throttle. Other screens go on
  // showing the curve as it grows.
  function sweep(state) {
    drawn.sweep = state;
    document.body.dataset.sweep = state;
    document.body.dataset.hand = { hold: "wait", steady: "wait" }[state] || "press";
    if (guided === "asked" && state !== "off" && state !== "done") { guide("yes"); }
    if (guided === "yes" && state === "off") { guide("no"); }
  }

  function guide(wish) {
    const was = guided === "yes", is = wish === "yes";
    guided = wish;
    try { sessionStorage.setItem("frothline-guided", is ? "yes" : "no"); } catch { /* kept for this view */ }
    if (was === is) { return; }
    document.body.dataset.guided = is ? "yes" : "no";
    for (const part of document.querySelectorAll("header, .page, .skip")) { part.inert = is; }
    const next = is ? document.getElementById("sweep-next") : document.querySelector(`#page-${viewer.page} [data-guide]`);
    if (next) { next.focus({ preventScroll: true }); }
    if (!is) { resize(); }
  }

  // The dot is moved by frames and by nothing else: it stands still the moment they stop.
  function dot(frames) {
    const way = document.getElementById("air"), mark = document.getElementById("dot");
    if (drawn.frames !== null && frames > drawn.frames) {
      const length = way.getTotalLength();
      drawn.moved = (drawn.moved + (still.matches ? 0 : 11)) % length;
      const at = way.getPointAtLength(drawn.moved);
      mark.setAttribute("cx", at.x);
      mark.setAttribute("cy", at.y);
      mark.dataset.is = "moving";
    } else if (drawn.frames !== null) { mark.dataset.is = "still"; }
    drawn.frames = frames;
  }

  // --- pictures ------------------------------------------------------------------------------------------------

  // Words and figures follow every message. A picture takes at most a quarter of the time of a slow machine: it then skips
  // messages, and the next one it takes is whole.
  async function unhurried(key, picture) {
    const pace = drawn.paces[key] || (drawn.paces[key] = { cost: 0, ended: -1e9 });
    const begun = performance.now();
    if (!picture.figure && begun - pace.ended < 4 * (pace.cost - 8)) { return; }
    await paint(key, picture);
    pace.ended = performance.now();
    pace.cost = 0.7 * pace.cost + 0.3 * Math.min(pace.ended - begun, 300);
  }

  async function paint(key, picture) {
    const graph = document.querySelector(`#${key} .js-plotly-plot`);
    if (!graph || !window.Plotly || !graph.offsetWidth) { return; }
    if (picture.figure && viewer.have[key] !== picture.key) {
      const figure = picture.figure;
      fill(figure.data, picture.live);
      if (picture.ranges) { Object.entries(picture.ranges).forEach(([axis, range]) => { figure.layout[axis].range = range; }); }
      const kept = drawn.zoomed[key];
      if (kept) { Object.entries(kept).forEach(([axis, range]) => { figure.layout[axis].range = range; figure.layout[axis].autorange = false; }); }
      figure.layout.width = undefined;
      figure.layout.autosize = true;
      await window.Plotly.react(graph, figure.data, figure.layout, graph._context ? undefined : {});
      viewer.have[key] = picture.key;
      drawn.ranges[key] = JSON.stringify(picture.ranges || {});
      watch(key, graph);
      return;
    }
    if (viewer.have[key] !== picture.key) { return; }
    const count = picture.live.x.length, first = graph.data.length - count;
    const layout = {};
    const ranges = JSON.stringify(picture.ranges || {});
    if (ranges !== drawn.ranges[key] && !drawn.zoomed[key]) {
      drawn.ranges[key] = ranges;
      Object.entries(picture.ranges).forEach(([axis, range]) => { layout[`${axis}.range`] = range; });
    }
    drawn.drawing[key] = true;
    await window.Plotly.update(graph, picture.live, layout, Array.from({ length: count }, (_, i) => first + i));
    drawn.drawing[key] = false;
  }

  function fill(data, live) {
    const first = data.length - live.x.length;
    live.x.forEach((x, i) => { data[first + i].x = x; data[first + i].y = live.y[i]; });
  }

  // A reader who looks closer keeps that view until "Show all" or a double click.
  function watch(key, graph) {
    if (graph.dataset.watched) { return; }
    graph.dataset.watched = "yes";
    graph.on("plotly_relayout", (change) => {
      if (drawn.drawing[key]) { return; }
      const zoomed = drawn.zoomed[key] || {};
      for (const [name, value] of Object.entries(change)) {
        const low = name.match(/^([xy]axis\d*)\.range\[0\]$/);
        if (low) { zoomed[low[1]] = [value, change[`${low[1]}.range[1]`]]; }
      }
      if (Object.keys(zoomed).length) { drawn.zoomed[key] = zoomed; }
      if (Object.keys(change).some((name) => name.endsWith(".autorange"))) { showAll(key); }
      back(key);
    });
    graph.on("plotly_doubleclick", () => { showAll(key); return false; });
  }

  function showAll(key) {
    delete drawn.zoomed[key];
    viewer.have[key] = ""; // the next message brings the whole picture
    const graph = document.querySelector(`#${key} .js-plotly-plot`);
    if (graph && graph.layout) { graph.layout.uirevision = String(Math.random()); }
    back(key);
  }

  function back(key) {
    const button = document.querySelector(`[data-show-all="${key}"]`);
    if (button) { button.classList.toggle("on", Boolean(drawn.zoomed[key])); }
  }

  function resize() {
    document.querySelectorAll(".js-plotly-plot").forEach((graph) => {
      if (graph.offsetWidth && window.Plotly && graph.layout) { window.Plotly.Plots.resize(graph); }
    });
  }

  // --- what the reader chooses ---------------------------------------------------------------------------------

  function show(page, push) {
    viewer.page = page;
    document.body.dataset.page = page;
    document.querySelectorAll("nav a").forEach((a) => {
      if (a.dataset.page === page) { a.setAttribute("aria-current", "page"); } else { a.removeAttribute("aria-current"); }
    });
    if (push) { scrollTo(0, 0); }
    requestAnimationFrame(resize);
    tell();
  }

  function settings() {
    document.getElementById("units").textContent = viewer.system === "metric" ? "kPa, L/s" : "inH₂O, cfm";
    document.getElementById("units").setAttribute("aria-label", `units: ${viewer.system}; press to change`);
    document.getElementById("sound").textContent = sound.on() ? "sound on" : "sound off";
    document.querySelectorAll("[data-choose]").forEach((b) => {
      b.setAttribute("aria-pressed", String(b.dataset.choose === `seconds:${viewer.seconds}`));
    });
  }

  document.addEventListener("click", (event) => {
    const link = event.target.closest("nav a"), button = event.target.closest("button");
    if (link && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
      event.preventDefault();
      history.pushState(null, "", link.getAttribute("href"));
      show(link.dataset.page, true);
    } else if (button && button.id === "units") {
      viewer.system = viewer.system === "metric" ? "inch-pound" : "metric";
      keep.set("system", viewer.system);
      forget();
    } else if (button && button.id === "sound") {
      sound.mute();
    } else if (button && button.dataset.choose) {
      const [what, value] = button.dataset.choose.split(":");
      viewer[what] = Number(value);
      keep.set(what, value);
      delete drawn.zoomed.traces;
      back("traces");
    } else if (button && button.dataset.guide) { guide("asked"); } else if (button && (button.id === "sweep-look" || (button.id === "sweep-next" && drawn.sweep === "done"))) {
      guide("no");
    } else if (button && button.dataset.showAll) { showAll(button.dataset.showAll); } else { return; }
    settings();
    tell();
  });

  function forget() { Object.keys(drawn.zoomed).forEach(showAll); }

  addEventListener("popstate", () => show(PAGES[location.pathname] || "source", false));
  addEventListener("resize", () => { viewer.columns = columns(); tell(); });
  dark.addEventListener("change", () => { viewer.scheme = dark.matches ? "dark" : "light"; tell(); });

  let said = 0;
  function say(answer) {
    if (!answer || !answer.text) { return; }
    if (answer.trouble && guided === "asked") { guide("no"); }
    const place = document.getElementById("said");
    place.textContent = answer.text;
    place.dataset.trouble = answer.trouble ? "yes" : "no";
    place.dataset.shown = "yes";
    clearTimeout(said);
    said = setTimeout(() => { place.dataset.shown = "no"; }, answer.trouble ? 15000 : 5000);
  }

  // --- when nothing comes --------------------------------------------------------------------------------------

  let polling = false, awake = performance.now();

  function poll(on) {
    polling = on;
    window.dash_clientside.set_props("poll", { disabled: !on });
  }

  setInterval(async () => {
    const now = performance.now();
    if (now - awake > 2500) { heard = now; } // it was this page that slept, or was busy
    awake = now;
    const silent = now - heard;
    const hopeless = !window.SharedWorker && !polling; // phones that cannot share a socket between pages
    if (document.hidden || (silent < PATIENCE && !hopeless) || !window.dash_clientside || !window.dash_clientside.set_props) { return; }
    let alive = false;
    try { alive = (await fetch("/alive", { cache: "no-store" })).ok; } catch { alive = false; }
    if (alive && !polling) { poll(true); } else if (alive && silent > 3 * PATIENCE) { location.reload(); }
    if (!alive && !document.body.dataset.silent) { gone(); }
  }, 1000);

  // Nothing is known any more: no figure stays as if it were live, and what asks the program can not be pressed.
  const stopped = [];
  function gone() {
    document.body.dataset.silent = "yes";
    viewer.have = {}; // what comes next is drawn whole
    document.querySelectorAll("[data-live]").forEach((e) => { const text = unknown(e); if (text !== null) { put(e, text); } });
    document.querySelectorAll("[data-state=link]").forEach((e) => { e.dataset.is = "lost"; });
    document.querySelectorAll("[data-state^=fault-], [data-state^=part-], [data-state=recording], [data-state=strip], [data-state=run-phase]").forEach((e) => { e.dataset.is = ""; });
    document.querySelectorAll("[data-table]").forEach((e) => { e.replaceChildren(); });
    document.querySelectorAll("[data-rows=more] td, [data-rows=views] td, #sample .seconds").forEach((e) => { e.textContent = DASH; });
    document.querySelectorAll("main button:not([data-show-all]):not([data-choose]):not([data-also]):not(#sweep-look):not(:disabled)").forEach((e) => {
      e.disabled = true;
      stopped.push(e);
    });
    document.getElementById("dot").dataset.is = "still";
    sound.gone();
  }

  // What stands in an element once nothing is known; null where its words say nothing of now.
  function unknown(element) {
    const key = element.dataset.live;
    if (key === "link") { return "the program on the computer does not answer; start it again, this page goes on by itself"; }
    if (element.classList.contains("number")) { return DASH; }
    if (key.endsWith("-under") || key === "over-title" || key === "sweep-why") { return SILENT; }
    if (key === "strip") { return `${DASH} ${SILENT}`; }
    if (key.startsWith("line-")) { return element.textContent ? DASH : ""; }
    if (/^(fault|part)-|^(losses|simulated|over-do|sweep-missing)$/.test(key)) { return ""; }
    return { "run-phase": `Not known: ${SILENT}`, "run-clock": DASH, recording: "recording: not known", "sweep-pressure": DASH, "sweep-instruction": "wait" }[key] ?? null;
  }

  function returned() {
    document.body.removeAttribute("data-silent");
    stopped.splice(0).forEach((e) => { e.disabled = false; });
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    frothline: {
      draw(message) { draw(message).catch((error) => console.error(error)); },
      say(answer) { say(answer); },
    },
  });
  window.frothline = { viewer, drawn, tell };
  show(viewer.page, false);
  settings();
})();
