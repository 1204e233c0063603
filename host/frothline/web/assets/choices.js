// What the reader chooses: page, units, sound, time range, a closer look at a chart.
"use strict";
(function () {
  const { PAGES, viewer, keep, tell } = window.frothline;
  const sound = window.frothlineSound, charts = window.frothlineCharts, guide = window.frothlineGuide;

  function show(page, push) {
    viewer.page = page;
    document.body.dataset.page = page;
    document.querySelectorAll("nav a").forEach((a) => {
      if (a.dataset.page === page) { a.setAttribute("aria-current", "page"); } else { a.removeAttribute("aria-current"); }
    });
    if (push) { scrollTo(0, 0); }
    requestAnimationFrame(charts.resize);
  }

  function settings() {
    document.getElementById("units").textContent = viewer.system === "metric" ? "Units: metric" : "Units: US";
    document.getElementById("units").setAttribute("aria-label", `Units: ${viewer.system === "metric" ? "metric" : "US"}; press to change`);
    document.getElementById("sound").textContent = sound.on() ? "Sound on" : "Sound off";
    document.querySelectorAll("[data-choose]").forEach((b) => {
      b.setAttribute("aria-pressed", String(b.dataset.choose === `seconds:${viewer.seconds}`));
    });
  }

  function go(event, link) {
    if (event.ctrlKey || event.metaKey || event.shiftKey) { return; }
    event.preventDefault();
    history.pushState(null, "", link.getAttribute("href"));
    show(link.dataset.page, true);
    tell();
  }

  function choose(choice) {
    const [what, value] = choice.split(":");
    viewer[what] = Number(value);
    keep.set(what, value);
    charts.unzoom("traces");
  }

  function pressed(button) {
    if (button.id === "units") {
      viewer.system = viewer.system === "metric" ? "inch-pound" : "metric";
      keep.set("system", viewer.system);
      charts.forget();
    } else if (button.id === "sound") { sound.mute(); } else if (button.dataset.choose) { choose(button.dataset.choose); } else if (button.dataset.guide) {
      guide.show("asked");
    } else if (button.id === "sweep-look" || (button.id === "sweep-next" && guide.over())) { guide.show("no"); } else if (button.dataset.showAll) {
      charts.showAll(button.dataset.showAll);
    } else { return; }
    settings();
    tell();
  }

  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-page]"), button = event.target.closest("button");
    if (link) { go(event, link); } else if (button) { pressed(button); }
  });
  addEventListener("popstate", () => { show(PAGES[location.pathname] || "source", false); tell(); });

  window.frothlineChoices = { settings };
  show(viewer.page, false);
  settings();
})();
