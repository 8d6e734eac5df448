// Shows what is usual for the kind just chosen where nothing is typed yet: the
// form is fetched for that kind, and only its hints are taken.
(() => {
  "use strict";
  const kind = document.getElementById("f-kind");
  if (!(kind instanceof HTMLSelectElement)) return;
  kind.addEventListener("change", async () => {
    try {
      const answer = await fetch(`/products/new?kind=${encodeURIComponent(kind.value)}`);
      if (!answer.ok) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      for (const input of /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll("form.label input[id]"))) {
        const hint = /** @type {HTMLInputElement | null} */ (fresh.getElementById(input.id));
        if (!hint) continue;
        input.placeholder = hint.placeholder;
        const unit = input.parentElement?.querySelector("select");
        const usual = hint.parentElement?.querySelector("select");
        if (unit && usual && input.value === "") unit.value = usual.value;
      }
    } catch {
      // Without the hub the form still works: only the hints stay as they were.
    }
  });
})();
