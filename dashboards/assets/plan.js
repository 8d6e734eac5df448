// Plans again while the start is dragged, on its slider or on the first bar, and
// when anything else is chosen. Without this script the button does the same.
(() => {
  "use strict";

  const form = document.getElementById("ask");
  const at = document.getElementById("at");
  if (!form || !at) return;
  form.classList.add("live");
  let busy = false;
  let again = false;

  function address() {
    return `/plan?${new URLSearchParams(new FormData(form))}`;
  }

  // renew fetches the plan and swaps what came of it. While one is on its way
  // the next waits, so that dragging never piles up.
  async function renew() {
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    try {
      const url = address();
      const answer = await fetch(url, { cache: "no-store" });
      if (answer.ok) {
        take(new DOMParser().parseFromString(await answer.text(), "text/html"));
        history.replaceState(null, "", url);
      }
    } catch {
      // The hub is away: what stands stays, and live.js says so.
    }
    busy = false;
    if (again) {
      again = false;
      renew();
    }
  }

  function take(fresh) {
    const focus = document.activeElement?.id;
    for (const id of ["plan", "what-ifs"]) {
      const next = fresh.getElementById(id);
      if (next) document.getElementById(id).replaceWith(next);
    }
    if (!again) document.getElementById("start").textContent = fresh.getElementById("start").textContent;
    if (focus) document.getElementById(focus)?.focus({ preventScroll: true });
    document.getElementById("announce").textContent = document.querySelector("h1").textContent;
    hold();
  }

  // hold lets the first bar be dragged along the strip. The scale stays where it
  // is while it is held.
  function hold() {
    const strip = document.querySelector("#plan .strip");
    const bar = strip?.querySelector(".bar.first");
    if (!bar) return;
    bar.addEventListener("pointerdown", (down) => {
      const step = (strip.clientWidth * Number(strip.dataset.step)) / 100; // px
      const from = Number(at.value);
      down.preventDefault();
      const move = (e) => {
        const value = from + Math.round((e.clientX - down.clientX) / step) * Number(at.step);
        if (String(value) === at.value) return;
        at.value = value;
        renew();
      };
      const release = () => {
        removeEventListener("pointermove", move);
        removeEventListener("pointerup", release);
        removeEventListener("pointercancel", release);
      };
      addEventListener("pointermove", move);
      addEventListener("pointerup", release);
      addEventListener("pointercancel", release);
    });
  }

  form.addEventListener("input", renew);
  form.addEventListener("submit", (e) => {
    if (e.submitter?.name !== "at") return;
    e.preventDefault();
    at.value = e.submitter.value;
    renew();
  });
  hold();
})();
