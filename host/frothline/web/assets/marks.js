// Two marks of a ruler are set on a photo: tapped, dragged, moved by keys. They are in pixels of the whole upright photo;
// what is shown is a smaller copy. The numbers go into the fields of the photo's form, which is saved as ever.
"use strict";
(function () {
  const view = document.getElementById("marks");
  if (!view) { return; }
  const part = (selector) => view.querySelector(selector);
  const photo = part(".marks-photo"), image = part("img"), stage = part(".marks-stage"), line = part(".marks-line"), lens = part(".marks-lens");
  const said = part("[role=status]"), unset = part("[data-pick] span").textContent;
  const NAMES = ["first", "second"], GRAB = 22, STILL = 4; // px of the screen: reach of a mark, movement of a finger that only taps
  const FAR = 50; // pixels of one step with Shift
  const MAGNIFIED = 4, SHARPEST = 1.5; // the lens: times the photo on the screen, or px of the screen a pixel of the copy
  const POINT = /^\(?(\d+(?:\.\d+)?)(?: ?[,;] ?| )(\d+(?:\.\d+)?)\)?$/;
  let open = null, marks = {}, chosen = "first", drag = null;

  const field = (name) => document.getElementById(`${open.form}-${name}`);
  const scale = () => photo.clientWidth / open.across; // px of the screen a pixel of the photo
  const zoom = () => Math.max(MAGNIFIED * scale(), SHARPEST * image.naturalWidth / open.across);
  const apart = (one, other) => Math.hypot(one[0] - other[0], one[1] - other[1]);

  function typed(name) {
    const place = field(name), found = place && POINT.exec(place.value.trim().replace(/\s+/g, " "));
    const point = found && [Number(found[1]), Number(found[2])];
    return point && point[0] <= open.across && point[1] <= open.down ? point : null;
  }

  function begin(button) {
    const { marks: form, photo: address, across, down } = button.dataset;
    open = { form, button: button.id, across: Number(across), down: Number(down) };
    marks = { first: typed("first"), second: typed("second") };
    chosen = marks.first && !marks.second ? "second" : "first";
    view.dataset.gone = "no";
    image.src = address;
    view.dataset.is = "large";
    window.frothlineBlocks.whole();
    history.pushState({ marks: true }, "", location.href); // Back leaves the photo and not the page
    show();
  }

  function end() {
    if (!open) { return; }
    const button = document.getElementById(open.button), entered = history.state && history.state.marks;
    open = drag = null;
    view.dataset.is = "off";
    image.removeAttribute("src");
    window.frothlineBlocks.whole();
    if (entered) { history.back(); }
    const back = () => { if (button && !open) { button.focus({ preventScroll: true }); } };
    back();
    // Where the address leads to a place of the page, the browser takes the focus away when it goes back.
    if (entered) { addEventListener("popstate", () => setTimeout(back), { once: true }); } else { setTimeout(back); }
  }

  function set(name, [x, y]) {
    marks[name] = [Math.round(Math.min(Math.max(x, 0), open.across)), Math.round(Math.min(Math.max(y, 0), open.down))];
    chosen = name;
    write(name);
  }

  function write(name) {
    const place = field(name);
    if (place) {
      place.value = marks[name] ? marks[name].join(", ") : "";
      ["input", "change"].forEach((kind) => place.dispatchEvent(new Event(kind, { bubbles: true })));
    }
    show();
  }

  function step(x, y) { set(chosen, marks[chosen] ? [marks[chosen][0] + x, marks[chosen][1] + y] : [open.across / 2, open.down / 2]); }

  function show() {
    if (!open) { return; }
    const room = stage.getBoundingClientRect(), fits = Math.min(room.width / open.across, room.height / open.down);
    photo.style.width = `${open.across * fits}px`;
    photo.style.height = `${open.down * fits}px`;
    for (const name of NAMES) {
      const mark = part(`[data-of=${name}]`), button = part(`[data-pick=${name}]`), at = marks[name];
      mark.hidden = !at;
      mark.dataset.is = name === chosen ? "chosen" : "";
      if (at) { mark.style.left = `${100 * at[0] / open.across}%`; mark.style.top = `${100 * at[1] / open.down}%`; }
      button.setAttribute("aria-pressed", String(name === chosen));
      button.querySelector("span").textContent = at ? at.join(", ") : unset;
    }
    const { first, second } = marks;
    view.dataset.step = first && second ? "both" : !first && (chosen === "first" || second) ? "first" : "second";
    view.dataset.near = first && second && apart(first, second) < Number(view.dataset.shortest) ? "yes" : "no";
    line.hidden = !(first && second);
    if (!line.hidden) {
      line.style.left = `${first[0] * fits}px`;
      line.style.top = `${first[1] * fits}px`;
      line.style.width = `${apart(first, second) * fits}px`;
      line.style.transform = `rotate(${Math.atan2(second[1] - first[1], second[0] - first[0])}rad)`;
    }
    said.textContent = marks[chosen] ? part(`[data-pick=${chosen}]`).textContent : "";
    magnify();
  }

  function magnify() {
    const at = marks[chosen], size = lens.clientWidth, sharp = window.devicePixelRatio || 1, ink = lens.getContext("2d");
    lens.width = lens.height = Math.round(size * sharp);
    if (!at || !image.naturalWidth) { return; }
    const seen = size / zoom(), copy = image.naturalWidth / open.across; // pixels of the photo across the lens
    ink.scale(sharp, sharp);
    ink.imageSmoothingEnabled = true;
    ink.drawImage(image, (at[0] - seen / 2) * copy, (at[1] - seen / 2) * copy, seen * copy, seen * copy, 0, 0, size, size);
    for (const [colour, width] of [["#000", 3], ["#fff", 1.2]]) {
      ink.strokeStyle = colour;
      ink.lineWidth = width;
      ink.beginPath();
      for (const [x, y] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
        ink.moveTo(size / 2 + 5 * x, size / 2 + 5 * y);
        ink.lineTo(size / 2 * (1 + x), size / 2 * (1 + y));
      }
      ink.stroke();
    }
  }

  // Where the pointer is, in pixels of the photo.
  function point(event) {
    const at = photo.getBoundingClientRect();
    return [(event.clientX - at.left) / scale(), (event.clientY - at.top) / scale()];
  }

  function nearest(at) { return NAMES.filter((name) => marks[name]).sort((a, b) => apart(marks[a], at) - apart(marks[b], at))[0]; }

  function meant(at) {
    if (!marks[chosen]) { return chosen; }
    return NAMES.find((name) => !marks[name]) || nearest(at);
  }

  function press(event, perPixel, name, grabbed) {
    drag = { name, perPixel, grabbed, moved: false, from: [event.clientX, event.clientY], was: marks[name] };
    event.currentTarget.setPointerCapture(event.pointerId);
  }

  photo.addEventListener("pointerdown", (event) => {
    if (!open || !event.isPrimary || event.button > 0) { return; }
    const at = point(event), near = nearest(at), grabbed = Boolean(near) && apart(marks[near], at) * scale() < GRAB;
    const name = grabbed ? near : meant(at);
    press(event, scale(), name, grabbed);
    if (grabbed) { chosen = name; show(); } else { set(name, at); }
  });
  lens.addEventListener("pointerdown", (event) => {
    if (open && event.isPrimary && marks[chosen]) { press(event, -zoom(), chosen, true); } // the photo is dragged below the cross
  });
  function move(event) {
    if (!drag || !open || !event.isPrimary) { return; }
    const way = [event.clientX - drag.from[0], event.clientY - drag.from[1]];
    drag.moved = drag.moved || Math.hypot(...way) > STILL;
    if (!drag.grabbed) { set(drag.name, point(event)); } else if (drag.moved) {
      set(drag.name, [drag.was[0] + way[0] / drag.perPixel, drag.was[1] + way[1] / drag.perPixel]);
    }
  }
  function release(event) {
    if (drag && open && drag.grabbed && !drag.moved && event.currentTarget === photo) { set(drag.name, point(event)); }
    drag = null;
  }
  // Two fingers make the browser larger: what the first one has moved goes back.
  function give() {
    if (drag && open) { marks[drag.name] = drag.was; write(drag.name); }
    drag = null;
  }
  for (const place of [photo, lens]) {
    place.addEventListener("pointermove", move);
    place.addEventListener("pointerup", release);
    place.addEventListener("pointercancel", give);
  }

  const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  view.addEventListener("keydown", (event) => {
    const way = WAYS[event.key], far = event.shiftKey ? FAR : 1;
    if (!open || !way) { return; }
    event.preventDefault();
    step(far * way[0], far * way[1]);
  });
  document.addEventListener("keydown", (event) => { if (event.key === "Escape") { end(); } });
  addEventListener("popstate", end);
  addEventListener("resize", show);
  image.addEventListener("load", show);
  image.addEventListener("error", () => { if (open) { view.dataset.gone = "yes"; } });

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) { return; }
    if (button.dataset.marks && document.body.dataset.access !== "read") { begin(button); } else if (open && view.contains(button)) {
      if (button.dataset.pick) { chosen = button.dataset.pick; show(); } else if (button.dataset.move) { step(...button.dataset.move.split(" ").map(Number)); } else { end(); }
    }
  });
})();
