// Plans again while the start is dragged, on its slider or on the first bar, and
// when anything else is chosen. Without this script the button does the same.
(() => {
  "use strict";

  const asking = document.getElementById("ask");
  const slider = document.getElementById("at");
  if (!(asking instanceof HTMLFormElement && slider instanceof HTMLInputElement)) return;
  const form = asking;
  const at = slider;
  form.classList.add("live");
  let busy = false;
  let again = false;
  let other = false; // another part was chosen: its own start and products come

  function address() {
    const asked = new URLSearchParams();
    for (const [name, value] of new FormData(form)) {
      if (other && (name === "at" || /^p\d+$/.test(name))) continue;
      asked.append(name, String(value));
    }
    return `/plan?${asked}`;
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
      const whole = other;
      other = false;
      const answer = await fetch(url, { cache: "no-store" });
      if (answer.ok) {
        take(new DOMParser().parseFromString(await answer.text(), "text/html"), whole);
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

  /**
   * @param {Document} fresh
   * @param {boolean} whole it is of another part
   */
  function take(fresh, whole) {
    const focus = document.activeElement?.id;
    for (const id of whole ? ["plan", "what-ifs", "of"] : ["plan", "what-ifs"]) {
      const next = fresh.getElementById(id);
      if (next) document.getElementById(id)?.replaceWith(next);
    }
    const range = fresh.getElementById("at");
    if (range instanceof HTMLInputElement && !again) {
      [at.min, at.max] = [range.min, range.max];
      if (whole) at.value = range.value;
    }
    if (!again) copyText(document.getElementById("start"), fresh.getElementById("start"));
    if (focus) document.getElementById(focus)?.focus({ preventScroll: true });
    copyText(document.getElementById("announce"), document.querySelector("h1"));
    hold();
  }

  /**
   * @param {Element | null} to
   * @param {Element | null} from
   */
  function copyText(to, from) {
    if (to && from) to.textContent = from.textContent;
  }

  // hold lets the first bar be dragged along the strip. The scale stays where it
  // is while it is held.
  function hold() {
    const strip = /** @type {HTMLElement | null} */ (document.querySelector("#plan .strip"));
    const bar = /** @type {HTMLElement | null | undefined} */ (strip?.querySelector(".bar.first"));
    if (!strip || !bar) return;
    bar.addEventListener("pointerdown", (down) => {
      const step = (strip.clientWidth * Number(strip.dataset.step)) / 100; // px
      const from = Number(at.value);
      down.preventDefault();
      /** @param {PointerEvent} e */
      const move = (e) => {
        const value = from + Math.round((e.clientX - down.clientX) / step) * Number(at.step);
        if (String(value) === at.value) return;
        at.value = String(value);
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

  form.addEventListener("input", (e) => {
    other ||= e.target instanceof HTMLSelectElement && (e.target.name === "part" || e.target.name === "room");
    renew();
  });
  form.addEventListener("submit", (e) => {
    const button = e.submitter;
    if (!(button instanceof HTMLButtonElement) || button.name !== "at") return;
    e.preventDefault();
    if (Number(button.value) > Number(at.max)) at.max = button.value;
    at.value = button.value;
    renew();
  });
  hold();
})();
