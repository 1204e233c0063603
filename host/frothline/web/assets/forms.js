// What the reader types, chooses and presses in the blocks; requests to the server.
"use strict";
(function () {
  const counts = {};

  function wish(name, values) {
    const { viewer, visit, tell } = window.frothline;
    viewer.wish = { ...viewer.wish, [name]: values };
    visit.set("wish", JSON.stringify(viewer.wish));
    tell();
  }

  function chosen(control) {
    const name = control.dataset.wish, now = window.frothline.viewer.wish[name] || [];
    if (control.type === "checkbox") {
      const others = now.filter((one) => one !== control.value);
      wish(name, control.checked ? [...others, control.value] : others);
    } else { wish(name, control.value ? [control.value] : []); }
  }

  // A number gets the unit of its field when the field is left: the text must mean the same in other units.
  const NUMBER = /^[+-]?(\d+([.,]\d*)?|[.,]\d+)$/, FRACTION = /^(\d+[ -])?(\d+ ?\/ ?\d+)$|^\d*[½⅓⅔¼¾⅛⅜⅝⅞]$/;

  function withUnit(field) {
    const text = (field.value || "").trim(), unit = field.dataset && field.dataset.unit;
    if (!unit || !(NUMBER.test(text) || (FRACTION.test(text) && window.frothline.viewer.system !== "metric"))) { return false; }
    field.value = `${text} ${unit}`;
    return true;
  }

  function ask(button, what = button.dataset.do) {
    if (button.dataset.also) {
      const [name, ...value] = button.dataset.also.split(":");
      wish(name, value.join(":") ? [value.join(":")] : []);
    }
    if (!what) { return; }
    const [family, verb, ...argument] = what.split(":");
    const values = {}, form = button.closest("[data-form]");
    if (form) { form.querySelectorAll("[name]").forEach((e) => { withUnit(e); values[e.name] = e.value; }); }
    counts[family] = (counts[family] || 0) + 1;
    if (form && button.dataset.clears) { form.querySelectorAll("input").forEach((e) => { e.value = ""; }); }
    const data = { verb, argument: argument.join(":"), values, count: counts[family], page: window.frothline.viewer.name, system: window.frothline.viewer.system, slider: button.type === "range" ? what : "" };
    request(`do-${family}`, data);
  }

  // The page framework hands requests on, one after the other: of two at once it would drop the first. It comes after the
  // first figures; what is pressed before that waits for it.
  const LONGEST = 1000; // ms that a request waits for the answer to the one before it
  const waiting = [];
  let underWay = "", patience = 0;

  function request(store, data) {
    const last = waiting[waiting.length - 1];
    const again = last && data.slider && last[1].slider === data.slider; // a slider's newest value replaces one that waits
    if (again) { waiting.pop(); }
    waiting.push([store, data]);
    next();
  }

  function next() {
    if (underWay || !waiting.length || !document.getElementById("requests")) { return; }
    const [store, data] = waiting.shift();
    underWay = `${store.slice("do-".length)} ${data.count}`;
    patience = setTimeout(answered, LONGEST);
    window.dash_clientside.set_props(store, { data });
  }

  function answered() {
    clearTimeout(patience);
    underWay = "";
    next();
  }

  new MutationObserver((_, observer) => {
    if (!document.getElementById("requests")) { return; }
    observer.disconnect();
    setTimeout(next, 0);
  }).observe(document.getElementById("react-entry-point"), { childList: true, subtree: true });

  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-do], [data-also]");
    if (button) { ask(button); }
  });
  document.addEventListener("input", (event) => {
    if (event.target.dataset && event.target.dataset.wish && event.target.type !== "checkbox") { chosen(event.target); }
  });
  const LARGEST = 200000; // bytes of a table of points
  // A chosen file goes into the text field that its input names; the text is sent with the form, like a typed one.
  function readInto(field) {
    const [file] = field.files, place = document.getElementById(field.dataset.into);
    if (file && place && file.size <= LARGEST) { file.text().then((text) => { place.value = text; }); }
  }

  document.addEventListener("change", (event) => {
    if (event.target.files && event.target.dataset.into) { readInto(event.target); }
    if (withUnit(event.target) && event.target.dataset.wish) { chosen(event.target); }
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

  // The answer to a button, in the line at the foot of the page.
  let hiding = 0;
  function say(answer) {
    if (answer && answer.count === underWay) { answered(); }
    if (!answer || !answer.text) { return; }
    if (answer.trouble) { window.frothlineGuide.refused(); }
    const place = document.getElementById("said");
    place.textContent = answer.text;
    place.dataset.trouble = answer.trouble ? "yes" : "no";
    place.dataset.shown = "yes";
    clearTimeout(hiding);
    hiding = setTimeout(() => { place.dataset.shown = "no"; }, answer.trouble ? 15000 : 5000);
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, { frothline: { say } });
  window.frothlineForms = { press, released, wish };
})();
