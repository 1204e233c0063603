// Charts: drawn whole when their key is new, moved point by point otherwise, and the part that the reader looks at closer.
"use strict";
(function () {
  const CONFIG = { displayModeBar: false, responsive: true, doubleClick: "reset", scrollZoom: false };
  const state = { ranges: {}, zoomed: {}, views: {}, drawing: {}, paces: {}, unseen: new Set() };

  // Words and figures follow every message. A picture takes at most a quarter of the time of a slow machine: it then skips
  // messages, and the next one it takes is whole.
  async function unhurried(key, picture) {
    const pace = state.paces[key] || (state.paces[key] = { cost: 0, ended: -1e9 });
    const begun = performance.now();
    if (!picture.figure && begun - pace.ended < 4 * (pace.cost - 8)) { return; }
    await paint(key, picture);
    pace.ended = performance.now();
    pace.cost = 0.7 * pace.cost + 0.3 * Math.min(pace.ended - begun, 300);
  }

  // The chart library is loaded when a place for a chart is seen. Until it is here the server sends words and figures only.
  let begun = false;
  function expect() {
    if (begun || ![...document.querySelectorAll(".graph")].some((place) => place.offsetWidth)) { return; }
    begun = true;
    const script = document.createElement("script");
    script.src = document.body.dataset.plotly;
    script.onload = () => { window.frothline.viewer.charts = true; };
    script.onerror = () => { begun = false; script.remove(); };
    document.head.append(script);
  }

  async function paint(key, picture) {
    const graph = document.querySelector(`#${key} > div`);
    if (graph && !graph.offsetWidth && picture.figure?.layout.meta?.part) { // large, and sent once: it is asked for when it is seen
      state.unseen.add(key);
      window.frothline.viewer.have[key] = picture.key;
    }
    if (!graph || !graph.offsetWidth) { return; }
    if (picture.figure && window.frothline.viewer.have[key] !== picture.key) {
      const figure = picture.figure;
      fill(figure.data, picture.live);
      if (picture.ranges) { Object.entries(picture.ranges).forEach(([axis, range]) => { figure.layout[axis].range = range; }); }
      const kept = state.zoomed[key];
      if (kept) { Object.entries(kept).forEach(([axis, range]) => { figure.layout[axis].range = range; figure.layout[axis].autorange = false; }); }
      const view = state.views[key] || 0;
      figure.layout.uirevision = `view ${view}`; // another one makes the library forget the reader's own ranges
      figure.layout.width = undefined;
      figure.layout.autosize = true;
      if (!graph.data) { graph.replaceChildren(); }
      await window.Plotly.react(graph, figure.data, figure.layout, CONFIG);
      graph.dataset.scheme = picture.key.includes("/dark/") ? "dark" : "light"; // for paper, which is always light
      if (view === (state.views[key] || 0)) { window.frothline.viewer.have[key] = picture.key; }
      state.ranges[key] = JSON.stringify(picture.ranges || {});
      watch(key, graph);
      return;
    }
    if (window.frothline.viewer.have[key] !== picture.key) { return; }
    const count = picture.live.x.length, first = graph.data.length - count;
    const layout = {};
    const ranges = JSON.stringify(picture.ranges || {});
    if (ranges !== state.ranges[key] && !state.zoomed[key]) {
      state.ranges[key] = ranges;
      Object.entries(picture.ranges).forEach(([axis, range]) => { layout[`${axis}.range`] = range; });
    }
    state.drawing[key] = true;
    await window.Plotly.update(graph, picture.live, layout, Array.from({ length: count }, (_, i) => first + i));
    state.drawing[key] = false;
  }

  function fill(data, live) {
    const first = data.length - live.x.length;
    for (const [name, values] of Object.entries(live)) { values.forEach((value, i) => { data[first + i][name] = value; }); }
  }

  // A reader who looks closer keeps that view until "Show all" or a double click.
  function watch(key, graph) {
    if (graph.dataset.watched) { return; }
    graph.dataset.watched = "yes";
    graph.on("plotly_relayout", (change) => {
      if (state.drawing[key]) { return; }
      if (graph.layout.meta?.part) { return part(key, graph, change); }
      const zoomed = state.zoomed[key] || {};
      for (const [name, value] of Object.entries(change)) {
        const low = name.match(/^([xy]axis\d*)\.range\[0\]$/);
        if (low) { zoomed[low[1]] = [value, change[`${low[1]}.range[1]`]]; }
      }
      if (Object.keys(zoomed).length) { state.zoomed[key] = zoomed; }
      if (Object.keys(change).some((name) => name.endsWith(".autorange"))) { showAll(key); }
      back(key);
    });
    graph.on("plotly_doubleclick", () => {
      if (graph.layout.meta?.part) { ask(key, graph, "", ""); } else { showAll(key); }
      return false;
    });
  }

  // A chart that shows a part of a long recording asks the server for the part that was marked in it.
  function part(key, graph, change) {
    const from = change["xaxis.range[0]"], to = change["xaxis.range[1]"], { seconds } = graph.layout.meta.part;
    if (from !== undefined && to > from) { ask(key, graph, from * seconds, to * seconds); }
  }

  function ask(key, graph, from, to) {
    const { wish, of } = graph.layout.meta.part;
    state.views[key] = (state.views[key] || 0) + 1; // the range comes with the answer, not from the library
    window.frothlineForms.wish(wish, [`${from}:${to}:${of}`]);
  }

  function showAll(key) {
    delete state.zoomed[key];
    window.frothline.viewer.have[key] = ""; // the next message brings the whole picture
    state.views[key] = (state.views[key] || 0) + 1;
    back(key);
  }

  function back(key) {
    const button = document.querySelector(`[data-show-all="${key}"]`);
    if (button) { button.classList.toggle("on", Boolean(state.zoomed[key])); }
  }

  function resize() {
    state.unseen.forEach((key) => { window.frothline.viewer.have[key] = ""; });
    state.unseen.clear();
    document.querySelectorAll(".js-plotly-plot").forEach((graph) => {
      if (graph.offsetWidth && window.Plotly && graph.layout) { window.Plotly.Plots.resize(graph); }
    });
  }

  function unzoom(key) {
    delete state.zoomed[key];
    back(key);
  }

  function forget() { Object.keys(state.zoomed).forEach(showAll); }

  window.frothlineCharts = { draw: unhurried, expect, showAll, unzoom, forget, resize };
})();
