// The state of this page that the server is sent, and the settings kept in the browser.
"use strict";
(function () {
  const PAGES = JSON.parse(document.body.dataset.pages); // path: name
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

  addEventListener("resize", () => { viewer.columns = columns(); tell(); });
  dark.addEventListener("change", () => { viewer.scheme = dark.matches ? "dark" : "light"; tell(); });

  window.frothline = { PAGES, viewer, drawn, keep, visit, tell };
})();
