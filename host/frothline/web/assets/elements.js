// Makes elements of the blocks that the server sends, and tells it what is chosen, typed and pressed in them.
"use strict";
(function () {
  const SVG = "http://www.w3.org/2000/svg";
  const counts = {};

  // --- elements ------------------------------------------------------------------------------------------------

  function make(node) {
    if (typeof node === "string") { return document.createTextNode(node); }
    const element = document.createElement(node[0]);
    dress(element, node[1]);
    fill(element, node.slice(2));
    return element;
  }

  function dress(element, wanted) {
    for (const name of element.getAttributeNames()) {
      if (!(name in wanted)) { element.removeAttribute(name); if (name === "checked") { element.checked = false; } }
    }
    for (const [name, value] of Object.entries(wanted)) {
      if (name === "svg") { picture(element, value); } else if (!name.startsWith("on") && element.getAttribute(name) !== value) {
        element.setAttribute(name, value);
        // what a person has typed or chosen stays until the server says something new
        if (name === "selected") { element.selected = true; }
        if (name === "value" && element.localName === "input" && element !== document.activeElement) { element.value = value; }
      }
      if (name === "checked") { element.checked = true; }
    }
  }

  function picture(element, text) {
    if (element.drawnFrom === text) { return; }
    element.drawnFrom = text;
    const drawn = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
    element.replaceChildren(drawn.namespaceURI === SVG && drawn.localName === "svg" ? document.importNode(drawn, true) : "");
  }

  // Only what differs is touched: the focus and a half-typed figure stay. An element with an id is that element or none.
  function fill(element, nodes) {
    if (element.drawnFrom) { return; }
    nodes.forEach((node, i) => {
      const old = element.childNodes[i];
      if (!old) { element.appendChild(make(node)); } else if (typeof node === "string") {
        if (old.nodeType !== Node.TEXT_NODE) { element.replaceChild(make(node), old); } else if (old.data !== node) { old.data = node; }
      } else if (old.nodeType !== Node.ELEMENT_NODE || old.localName !== node[0] || (old.id || "") !== (node[1].id || "") || Boolean(old.drawnFrom) !== ("svg" in node[1])) {
        element.replaceChild(make(node), old);
      } else {
        dress(old, node[1]);
        fill(old, node.slice(2));
      }
    });
    while (element.childNodes.length > nodes.length) { element.lastChild.remove(); }
  }

  function draw(blocks, have) {
    for (const [name, block] of Object.entries(blocks || {})) {
      const place = document.querySelector(`[data-block="${name}"]`);
      if (!place || !block.body || have[name] === block.key) { continue; }
      const before = new Set(place.querySelectorAll("[data-focus]"));
      fill(place, block.body);
      have[name] = block.key;
      const wants = [...place.querySelectorAll("[data-focus]")].find((e) => !before.has(e));
      if (wants && wants.offsetWidth) { wants.focus({ preventScroll: true }); }
    }
    whole();
  }

  // A page for wet hands covers everything else: what lies under it can be reached neither by key nor by voice.
  let covered = null;
  function whole() {
    const over = [...document.querySelectorAll(".whole-page[data-is='large']")].find((e) => e.offsetWidth) || null;
    if (over === covered) { return; }
    covered = over;
    document.body.dataset.covered = over ? "yes" : "no";
    for (const part of document.querySelectorAll("header, .page > *, .skip")) { part.inert = Boolean(over) && part !== over; }
    if (over) {
      const first = over.querySelector("[data-focus]") || over.querySelector("button");
      if (first) { first.focus({ preventScroll: true }); }
    }
  }

  // --- what the reader does ------------------------------------------------------------------------------------

  function wish(name, values) {
    const viewer = window.frothline.viewer;
    viewer.wish = { ...viewer.wish, [name]: values };
    try { sessionStorage.setItem("frothline-wish", JSON.stringify(viewer.wish)); } catch { /* kept for this view */ }
    window.frothline.tell();
  }

  function kept() {
    try { return JSON.parse(sessionStorage.getItem("frothline-wish")) || {}; } catch { return {}; }
  }

  function chosen(control) {
    const name = control.dataset.wish, now = window.frothline.viewer.wish[name] || [];
    if (control.type === "checkbox") {
      const others = now.filter((one) => one !== control.value);
      wish(name, control.checked ? [...others, control.value] : others);
    } else { wish(name, control.value ? [control.value] : []); }
  }

  function ask(button, what = button.dataset.do) {
    if (button.dataset.also) {
      const [name, ...value] = button.dataset.also.split(":");
      wish(name, value.join(":") ? [value.join(":")] : []);
    }
    if (!what) { return; }
    const [family, verb, ...argument] = what.split(":");
    const values = {}, form = button.closest("[data-form]");
    if (form) { form.querySelectorAll("[name]").forEach((e) => { values[e.name] = e.value; }); }
    counts[family] = (counts[family] || 0) + 1;
    if (form && button.dataset.clears) { form.querySelectorAll("input").forEach((e) => { e.value = ""; }); }
    const data = { verb, argument: argument.join(":"), values, count: counts[family] };
    window.dash_clientside.set_props(`do-${family}`, { data });
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-do], [data-also]");
    if (button) { ask(button); }
  });
  document.addEventListener("input", (event) => {
    if (event.target.dataset && event.target.dataset.wish && event.target.type !== "checkbox") { chosen(event.target); }
  });
  document.addEventListener("change", (event) => {
    const form = event.target.closest && event.target.closest("[data-change]");
    if (form) { ask(event.target, `${form.dataset.change}:${event.target.name}`); }
    if (event.target.dataset && event.target.dataset.wish && event.target.type === "checkbox") { chosen(event.target); }
  });
  document.addEventListener("keydown", (event) => {
    const form = event.target.closest && event.target.closest("[data-form]");
    const main = form && event.key === "Enter" && event.target.localName === "input" ? form.querySelector("button[data-do]") : null;
    if (main) {
      event.preventDefault();
      main.click();
    }
  });

  // A line that appears above a button moves it. Between press and release the button must stay under the pointer, or the
  // browser makes no click of them: drawing waits that long, but no longer than press.limit.
  const press = { limit: 1500 }; // ms of one press for which drawing waits
  const CLICK = 100; // ms from the release to the click, which comes late after a touch
  let release = null, held = Promise.resolve();

  document.addEventListener("pointerdown", (event) => {
    if (!event.target.closest || !event.target.closest("button, a, summary, label")) { return; }
    if (release) { release(); }
    held = new Promise((resolve) => { release = resolve; setTimeout(resolve, press.limit); });
  }, true);
  document.addEventListener("pointerup", () => { if (release) { setTimeout(release, CLICK); } }, true);
  document.addEventListener("pointercancel", () => { if (release) { release(); } }, true);

  // Resolves when no button is held down.
  function released() { return held; }

  // An error of a picture does not rise through the page: it is caught on its way down.
  document.addEventListener("error", (event) => {
    if (event.target.dataset && "gone" in event.target.dataset) { event.target.closest("figure").dataset.is = "gone"; }
  }, true);

  window.frothlineBlocks = { draw, kept, press, released };
})();
