// Makes elements of the blocks that the server sends.
"use strict";
(function () {
  const SVG = "http://www.w3.org/2000/svg";

  function make(node) {
    if (typeof node === "string") { return document.createTextNode(node); }
    const element = document.createElement(node[0]);
    dress(element, node[1], true);
    fill(element, node.slice(2));
    return element;
  }

  // Whether details are open is the reader's choice from the moment they are there.
  function dress(element, wanted, made = false) {
    const chosen = (name) => name === "open" && element.localName === "details" && !made;
    for (const name of element.getAttributeNames()) {
      if (!(name in wanted) && !chosen(name)) { element.removeAttribute(name); if (name === "checked") { element.checked = false; } }
    }
    for (const [name, value] of Object.entries(wanted)) {
      if (name === "svg") { picture(element, value); } else if (!name.startsWith("on") && !chosen(name) && element.getAttribute(name) !== value) {
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

  // A viewer who may not operate: what the server would refuse can not be pressed. Settings of the viewer stay free.
  const REFUSED = ["main button[data-do]:not([data-do=''])", "main button[data-marks]", "main [data-form] :is(input, select, textarea):not([data-wish])", "[data-block=replay] :is(button, input)"];
  function lock(access) {
    document.body.dataset.access = access;
    if (access === "read") { document.querySelectorAll(REFUSED.join(", ")).forEach((e) => { e.disabled = true; }); }
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

  // An error of a picture does not rise through the page: it is caught on its way down.
  document.addEventListener("error", (event) => {
    if (event.target.dataset && "gone" in event.target.dataset) { event.target.closest("figure").dataset.is = "gone"; }
  }, true);

  window.frothlineBlocks = { draw, lock, whole };
})();
