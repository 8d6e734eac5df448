// Unfolds a record while it is printed, for browsers whose style sheets cannot.
(() => {
  "use strict";

  /** @type {HTMLDetailsElement[]} */
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details.fold")].filter((d) => d instanceof HTMLDetailsElement && !d.open).map((d) => /** @type {HTMLDetailsElement} */ (d));
    for (const d of opened) d.open = true;
  });
  addEventListener("afterprint", () => {
    for (const d of opened) d.open = false;
  });
})();
