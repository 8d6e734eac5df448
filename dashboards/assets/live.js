// Keeps an open page current: the server says over an event stream when
// something changed, and the page fetches itself again and swaps the parts
// marked data-live. Without this script the page reads the same, and is renewed
// by hand.
(() => {
  "use strict";

  const silence = 50_000; // ms without any event until the link counts as lost
  const settle = 10_000; // ms from the page to its event stream
  const rest = 500; // ms at least between two fetches
  let ahead = clockAhead(document.body); // ms by which the hub's clock is ahead of ours
  // A page that the service worker kept is as old as its own clock says.
  let kept = "kept" in document.body.dataset;
  let heard = kept ? Date.parse(document.body.dataset.now ?? "") : Date.now();
  let lostSince = kept ? heard : 0;
  if (kept) ahead = 0;
  let fetching = false;
  let again = false;

  /** @param {HTMLElement} body */
  function clockAhead(body) {
    return Date.parse(body.dataset.now ?? "") - Date.now();
  }

  /**
   * The same steps as the server's: s, min, h, days.
   * @param {number} seconds
   */
  function age(seconds) {
    const s = Math.max(0, Math.floor(seconds));
    if (s < 120) return `${s} s ago`;
    if (s < 7200) return `${Math.floor(s / 60)} min ago`;
    if (s < 172800) return `${Math.floor(s / 3600)} h ago`;
    return `${Math.floor(s / 86400)} days ago`;
  }

  function showAges() {
    const now = Date.now() + ahead;
    for (const t of /** @type {NodeListOf<HTMLTimeElement>} */ (document.querySelectorAll("time[data-ago]"))) {
      const text = age((now - Date.parse(t.dateTime)) / 1000);
      if (t.textContent !== text) t.textContent = text;
    }
  }

  function showLink() {
    const lost = document.getElementById("lost");
    if (!lost) return;
    if (Date.now() - heard < silence && !lostSince) {
      lost.hidden = true;
      return;
    }
    lostSince ||= heard;
    const since = new Date(lostSince).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    const old = kept ? `It was kept ${age((Date.now() - lostSince) / 1000)}` : "It may be old";
    const text = `No word from the hub since ${since}. What stands here is not live. ${old}.`;
    if (lost.textContent !== text) lost.textContent = text;
    lost.hidden = false;
  }

  /**
   * Puts the new live parts in place, leaving open what the reader opened and
   * the focus where it was.
   * @param {Document} fresh
   */
  function swap(fresh) {
    const focus = document.activeElement && document.activeElement.id;
    const before = document.querySelector("h1")?.textContent;
    for (const old of document.querySelectorAll("[data-live]")) {
      const next = fresh.getElementById(old.id);
      if (!next) continue;
      for (const d of old.querySelectorAll("details[open][id]")) {
        fresh.getElementById(d.id)?.setAttribute("open", "");
      }
      old.replaceWith(document.adoptNode(next));
    }
    document.body.dataset.version = fresh.body.dataset.version;
    document.body.dataset.now = fresh.body.dataset.now;
    if (fresh.body.dataset.journal !== undefined) document.body.dataset.journal = fresh.body.dataset.journal;
    ahead = clockAhead(document.body);
    if (focus) document.getElementById(focus)?.focus({ preventScroll: true });
    const after = document.querySelector("h1")?.textContent;
    const announce = document.getElementById("announce");
    if (announce && after && after !== before) announce.textContent = after;
    document.dispatchEvent(new Event("recoat:fresh"));
    showAges();
  }

  /**
   * Fetches the page again and shows it.
   * @param {boolean} [ifNew] only where it says something else: nothing is put
   * in place under a finger for nothing
   */
  async function renew(ifNew) {
    if (fetching) {
      again = true;
      return;
    }
    fetching = true;
    try {
      const answer = await fetch(location.href, { cache: "no-store" });
      if (answer.ok) {
        const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
        const [has, gets] = [document.body.dataset, fresh.body.dataset];
        if (!ifNew || gets.journal !== has.journal || gets.version !== has.version) swap(fresh);
      }
    } catch {
      // The hub is away: the event stream finds that out and says so.
    }
    await new Promise((done) => setTimeout(done, rest));
    fetching = false;
    if (again) {
      again = false;
      renew();
    }
  }

  function word() {
    heard = Date.now();
    lostSince = 0;
    if (kept) {
      kept = false;
      renew();
    }
    showLink();
  }

  function listen() {
    clearInterval(looking);
    const stream = new EventSource("/events");
    stream.addEventListener("open", word);
    stream.addEventListener("beat", word);
    stream.addEventListener("changed", (e) => {
      word();
      if (e.data !== document.body.dataset.version) renew();
    });
    stream.addEventListener("journal", (e) => {
      word();
      const has = document.body.dataset.journal;
      if (has !== undefined && e.data !== has) renew();
    });
    stream.addEventListener("error", () => {
      lostSince ||= heard;
      showLink();
      if (stream.readyState === EventSource.CLOSED) setTimeout(listen, 5_000);
    });
  }

  setInterval(() => {
    showAges();
    showLink();
  }, 1_000);
  setInterval(() => {
    if (!document.hidden) renew(); // now moves on, even when nothing else does
  }, 60_000);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) renew();
  });
  document.addEventListener("recoat:noted", () => renew()); // by the script of the taps
  // What has just been served is current. The stream is opened a little later,
  // so that a page that is only printed or previewed never holds one. Until then
  // a page that shows the journal looks for itself: another phone may note
  // something meanwhile.
  const looking = setInterval(() => {
    if (!document.hidden && document.body.dataset.journal !== undefined) renew(true);
  }, 1_000);
  if (document.querySelector("[data-live]")) setTimeout(listen, kept ? 0 : settle);
  if (kept) showLink();
  // Where the origin allows, the last state is kept for when the hub is away.
  if ("serviceWorker" in navigator && window.isSecureContext) navigator.serviceWorker.register("/sw.js").catch(() => {});
})();
