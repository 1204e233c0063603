// Loads the page framework after the first figures. It hands the reader's requests to the server and shows nothing.
"use strict";
(function () {
  let begun = false;

  async function load() {
    if (begun) { return; }
    begun = true;
    const place = document.querySelector("footer"), loaded = []; // files load at once and run in their order
    for (const part of [...document.getElementById("framework").content.children]) {
      if (part.localName !== "script") { place.append(part); continue; }
      const script = document.createElement("script");
      for (const { name, value } of part.attributes) { script.setAttribute(name, value); }
      script.textContent = part.textContent;
      script.async = false;
      if (part.src) { loaded.push(new Promise((resolve) => { script.onload = script.onerror = resolve; })); } else { await Promise.all(loaded); }
      place.append(script);
    }
  }

  window.frothlineFramework = { load };
})();
