// Reads any instant of the strip of time: where a finger, a pointer or the arrow
// keys point, a line says what each coat and the room are likely to be then.
// Without this script the strip, its lines and its table say the same.
(() => {
  "use strict";

  /** @type {RoomNow[] | undefined} */
  let rooms; // what the hub says, fetched when first asked for
  /** @type {string | undefined} */
  let fetchedFor;
  /** @type {Record<string, number>} */
  const moves = { ArrowLeft: -900, ArrowRight: 900, PageUp: -3600, PageDown: 3600 }; // s
  let at = 0; // s since 1970 that is read; 0: none

  /** @param {number} t */
  function clock(t) {
    return new Date(t * 1000).toLocaleTimeString("en-GB", {
      hour: "2-digit", minute: "2-digit", timeZone: "UTC", hour12: document.body.dataset.clock === "12",
    });
  }

  function zone() {
    return Number(document.body.dataset.zone || 0);
  }

  async function know() {
    const version = document.body.dataset.version;
    if (rooms && fetchedFor === version) return;
    const answer = await fetch("/api/rooms", { cache: "no-store" });
    if (!answer.ok) return;
    rooms = (await answer.json()).rooms;
    fetchedFor = version;
  }

  /** @param {number} c */
  function difference(c) {
    const warm = document.body.dataset.unit === "F";
    return `${(warm ? c * 1.8 : c).toFixed(1).replace("-", "−")} ${warm ? "°F" : "K"}`;
  }

  /** @type {Record<string, string>} */
  const states = {
    "set-to-touch": "set to touch", "dust-free": "dust-free", "tack-free": "tack-free", sandable: "sandable",
    "dry-to-recoat": "dry to recoat", handle: "at handling strength", cured: "cured",
  };

  /**
   * @param {CoatNow} c
   * @param {number} t
   */
  function coatAt(c, t) {
    const s = c.stages.find((x) => x.stage === c.next_stage);
    const name = [c.piece, c.part].filter(Boolean).join(", ");
    if (!s) return `${name}: nothing left to wait for`;
    const word = states[s.stage] || s.stage;
    if (t < Date.parse(c.applied_at) / 1000) return `${name}: not on yet`;
    if (!s.ready_at) return `${name}: standing still`;
    const [low, likely, high] = [s.low_at, s.ready_at, s.high_at].map((x) => Date.parse(x ?? "") / 1000);
    if (t < low) return `${name}: almost surely not yet ${word}`;
    if (t < likely) return `${name}: may be ${word}, more likely not yet`;
    if (t < high) return `${name}: likely ${word}, not surely`;
    return `${name}: almost surely ${word}`;
  }

  /**
   * @param {RoomNow} r
   * @param {number} t
   */
  function marginAt(r, t) {
    /** @type {{ off: number, p: DewMarginPoint } | undefined} */
    let best;
    for (const p of r.dew_margin) {
      const off = Math.abs(Date.parse(p.at) / 1000 - t);
      if (!best || off < best.off) best = { off, p };
    }
    if (!best || best.off > 1800 || best.p.dew_margin_c == null) return "dew margin not known";
    const { p } = best;
    const margin = best.p.dew_margin_c;
    const text = `dew margin ${difference(margin)}`;
    const under = margin < r.dew_margin_limit_c ? ", under the limit: put no coat on" : "";
    return p.projected && p.low_c != null && p.high_c != null ? `${text}, likely between ${difference(p.low_c)} and ${difference(p.high_c)}${under}` : `${text}, measured${under}`;
  }

  /**
   * Says what stands at an instant of one strip.
   * @param {HTMLElement} strip
   * @param {number} t
   * @param {boolean} aloud
   */
  async function read(strip, t, aloud) {
    at = t;
    try {
      await know();
    } catch {
      return; // the hub is away, and live.js says so
    }
    const room = rooms?.find((r) => r.room === roomOf(strip));
    if (!room || at !== t || !strip.isConnected) return;
    const [from, to] = [Number(strip.dataset.from), Number(strip.dataset.to)];
    let cursor = /** @type {HTMLElement | null} */ (strip.querySelector(".cursor"));
    if (!cursor) {
      cursor = Object.assign(document.createElement("div"), { className: "cursor" });
      const line = Object.assign(document.createElement("p"), { className: "reading" });
      strip.append(cursor);
      strip.after(line);
    }
    cursor.style.left = `${(100 * (t - from)) / (to - from)}%`;
    const line = strip.parentElement?.querySelector(".reading");
    if (!line) return;
    if (aloud) line.setAttribute("aria-live", "polite");
    else line.removeAttribute("aria-live");
    line.textContent = `${clock(t + zone())}: ${[marginAt(room, t), ...room.coats.map((c) => coatAt(c, t))].join("; ")}.`;
  }

  /** @param {HTMLElement} strip */
  function roomOf(strip) {
    return /** @type {HTMLElement | null} */ (strip.closest("[data-room]"))?.dataset.room;
  }

  /**
   * @param {HTMLElement} strip
   * @param {number} x
   */
  function instant(strip, x) {
    const box = strip.getBoundingClientRect();
    const share = Math.min(Math.max((x - box.left) / box.width, 0), 1);
    const [from, to] = [Number(strip.dataset.from), Number(strip.dataset.to)];
    return Math.round((from + share * (to - from)) / 300) * 300;
  }

  /** @param {HTMLElement} strip */
  function take(strip) {
    if (strip.dataset.taken) return;
    strip.dataset.taken = "1";
    strip.tabIndex = 0;
    strip.setAttribute("role", "group");
    strip.setAttribute("aria-label", "Strip of time. Left and right read any instant.");
    let held = false;
    /** @param {PointerEvent} e */
    const point = (e) => {
      if (e.target instanceof Element && e.target.closest("a, summary, details, button")) return;
      read(strip, instant(strip, e.clientX), false);
    };
    strip.addEventListener("pointerdown", (e) => {
      held = true;
      point(e);
    });
    strip.addEventListener("pointermove", (e) => {
      if (held || e.pointerType === "mouse") point(e);
    });
    for (const end of ["pointerup", "pointercancel", "pointerleave"]) strip.addEventListener(end, () => { held = false; });
    strip.addEventListener("keydown", (e) => {
      const by = moves[e.key];
      if (!by || e.target !== strip) return;
      e.preventDefault();
      const now = Math.floor(Date.parse(document.body.dataset.now ?? "") / 300_000) * 300;
      read(strip, Math.min(Math.max((at || now) + by, Number(strip.dataset.from)), Number(strip.dataset.to)), true);
    });
  }

  function takeAll() {
    for (const strip of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-strip]"))) {
      take(strip);
      if (at) read(strip, at, false);
    }
  }

  document.addEventListener("recoat:fresh", takeAll);
  takeAll();
})();
