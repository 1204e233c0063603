// The state of this page that the server is sent, the settings kept in the browser, and the first socket. The head of the
// document has this file in it: the server makes the first message while style sheet, script and body are loaded.
"use strict";
(function () {
  const PAGES = JSON.parse(document.documentElement.dataset.pages); // path: name
  const dark = window.matchMedia("(prefers-color-scheme: dark)");

  function store(kind, prefix) {
    return {
      get(key, otherwise) { try { return window[kind].getItem(prefix + key) || otherwise; } catch { return otherwise; } },
      set(key, value) { try { window[kind].setItem(prefix + key, value); } catch { /* private window: lost at reload */ } },
    };
  }

  const keep = store("localStorage", "frothline-"); // on this device
  const visit = store("sessionStorage", "frothline-"); // in this tab

  function columns() { return Math.max(60, Math.min(400, Math.round(innerWidth / 4))); }

  function wishes() { try { return JSON.parse(visit.get("wish", "{}")) || {}; } catch { return {}; } }

  const viewer = {
    name: Math.random().toString(36).slice(2, 14),
    page: PAGES[location.pathname] || "source",
    system: keep.get("system", "metric"),
    scheme: dark.matches ? "dark" : "light",
    touch: window.matchMedia("(pointer: coarse)").matches,
    columns: columns(),
    seconds: Number(keep.get("seconds", "30")),
    charts: false, // whether the chart library is here: until then the server makes no chart
    have: {},
    wish: wishes(),
    seen: 0,
  };
  // ticks: messages drawn. frames: good frames at the last message, and when they last grew.
  const drawn = { ticks: 0 };

  function tell() { window.frothlineConnection?.send(viewer); } // the socket is the last to be loaded

  function measured() { viewer.columns = columns(); tell(); }

  addEventListener("resize", measured);
  dark.addEventListener("change", () => { viewer.scheme = dark.matches ? "dark" : "light"; tell(); });

  window.frothline = { PAGES, viewer, drawn, keep, visit, tell, measured };

  // --- the first socket ----------------------------------------------------------------------------------------

  function open() { return new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/live`); }

  const first = open(), early = []; // messages before the other scripts run: at most one, because none is answered
  first.onopen = () => first.send(JSON.stringify(viewer));
  first.onmessage = (event) => early.push(event);
  window.frothlineSocket = { open, first, early };
})();
