// Tones, and the bar that stands over everything while an alarm lasts.
"use strict";
(function () {
  const pace = { again: 3000 }; // ms from one sounding of an alarm to the next, until somebody has heard it
  const keep = window.frothline.keep;
  let on = keep.get("sound", "on") === "on";
  let audio = null, before = null, lasting = [], rung = -1e9;
  const heard = new Set();

  // Browsers allow sound only after a first touch; a phone that slept has to be woken again.
  function wake() {
    if (!audio && window.AudioContext) { audio = new AudioContext(); }
    if (audio && audio.state === "suspended") { audio.resume(); }
  }

  function tones(now) {
    const was = before;
    before = now;
    lasting = now.lasting || [];
    bar();
    if (was && now.alarm > was.alarm) { alarm(); } else if (was && now.steady > was.steady) { beep([660, 880], 0.12, 0.25, "sine"); }
  }

  function unheard() { return lasting.some((one) => !heard.has(one)); }

  // Four harsh notes in the range that a phone's speaker gives best, through ear muffs and beside a vacuum cleaner.
  function alarm() {
    rung = performance.now();
    beep([1040, 780, 1040, 780], 0.17, 0.6, "square");
    if (on && audio && navigator.vibrate) { navigator.vibrate([350, 120, 350]); }
  }

  function beep(pitches, length, volume, shape) {
    if (!on || !audio) { return; }
    pitches.forEach((pitch, i) => {
      const tone = audio.createOscillator(), loud = audio.createGain(), at = audio.currentTime + i * length;
      tone.type = shape;
      tone.frequency.value = pitch;
      loud.gain.setValueAtTime(0.0001, at);
      loud.gain.exponentialRampToValueAtTime(volume, at + 0.02);
      loud.gain.exponentialRampToValueAtTime(0.0001, at + length);
      tone.connect(loud).connect(audio.destination);
      tone.start(at);
      tone.stop(at + length);
    });
  }

  setInterval(() => {
    if (on && audio && unheard() && performance.now() - rung >= pace.again) { alarm(); }
  }, 200);

  // The bar shows over pages that cover everything as long as an alarm lasts, elsewhere as long as it sounds.
  function bar() {
    const title = document.querySelector("[data-live=over-title]").textContent;
    document.body.dataset.alarm = title ? "yes" : "no";
    document.body.dataset.sounding = on && unheard() ? "yes" : "no";
  }

  function hear() {
    lasting.forEach((one) => heard.add(one));
    bar();
  }

  function mute() {
    on = !on;
    keep.set("sound", on ? "on" : "off");
    bar();
  }

  // The program has gone: what sounded is not known any more, and that is said once.
  function gone() {
    lasting = [];
    before = null;
    bar();
    alarm();
  }

  const over = document.getElementById("over");
  new ResizeObserver(() => { document.documentElement.style.setProperty("--over", `${over.offsetHeight}px`); }).observe(over);
  document.getElementById("heard").addEventListener("click", hear);
  document.addEventListener("click", wake, true);
  document.addEventListener("click", (event) => { if (event.target.closest("[data-silence]")) { hear(); } });

  window.frothlineSound = { tones, mute, gone, pace, on: () => on };
})();
