// Keeps what is tapped until the hub has it. A form marked data-tap is sent from
// here with a name of its own and the time it was tapped; while the hub is out
// of reach it waits in the browser's storage, and goes once the hub is back. The
// name makes sure that it counts once, however often it is sent. Without this
// script the form is sent by the browser as any other.
(() => {
  "use strict";

  const key = "recoat.taps";
  const again = 2_000; // ms until the next try
  const patience = 8_000; // ms for one try
  const opened = openStore();
  if (!opened) return;
  const store = opened;
  let ahead = 0; // ms by which the hub's clock is ahead of ours
  let sending = false;
  let lost = false; // the last try reached nobody
  let stranger = false; // the hub asks for a log-in first
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  let goOn = ""; // the tap after which its page is left for the one that shows it

  function openStore() {
    try {
      localStorage.getItem(key);
      return localStorage;
    } catch {
      return null; // forbidden here: forms go by themselves
    }
  }

  /** @returns {Tap[]} */
  function read() {
    try {
      const taps = JSON.parse(store.getItem(key) ?? "[]");
      return Array.isArray(taps) ? taps : [];
    } catch {
      return [];
    }
  }

  /** @param {Tap[]} taps */
  function write(taps) {
    if (taps.length) store.setItem(key, JSON.stringify(taps));
    else store.removeItem(key);
  }

  // A name that no other tap has. crypto.randomUUID is not there on plain http.
  function name() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
  }

  function setClock() {
    ahead = Date.parse(document.body.dataset.now ?? "") - Date.now();
  }

  function show() {
    const line = document.getElementById("waiting");
    if (!line) return;
    const taps = read();
    if (!lost || taps.length === 0) {
      line.hidden = true;
      return;
    }
    const made = new Date(Date.parse(taps[0].made)).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    const why = stranger ? "You are logged out: log in again." : "The hub is out of reach.";
    line.textContent =
      taps.length === 1
        ? `${why} 1 tap, made at ${made}, is kept on this phone and goes by itself when the hub is back.`
        : `${why} ${taps.length} taps, the first made at ${made}, are kept on this phone and go by themselves when the hub is back.`;
    line.hidden = false;
  }

  /**
   * Shows what came of a tap, with a way to take it back.
   * @param {string} text
   * @param {string} [undo]
   * @param {string} [more]
   */
  function say(text, undo, more) {
    const line = document.getElementById("noted");
    if (!line) return;
    line.textContent = text + " ";
    if (more) {
      const link = document.createElement("a");
      link.href = more;
      link.textContent = "Say why";
      line.append(link);
    }
    if (undo) {
      const form = document.createElement("form");
      form.method = "post";
      form.action = undo;
      form.dataset.tap = "";
      const button = document.createElement("button");
      button.textContent = "Undo";
      form.append(button);
      line.append(form);
    }
    line.hidden = false;
    for (const old of document.querySelectorAll(".said")) old.remove();
  }

  /** @param {Tap} tap */
  async function send(tap) {
    const answer = await fetch(tap.to, {
      method: "POST",
      body: new URLSearchParams(tap.body),
      headers: { Accept: "application/json" },
      signal: AbortSignal.timeout(patience),
    });
    stranger = answer.status === 401;
    if (stranger || answer.status >= 500 || answer.status === 408 || answer.status === 429) throw new Error("later");
    /** @type {TapAnswer} */
    let said = {};
    try {
      said = await answer.json();
    } catch {
      // Not one of our answers: it was refused all the same.
    }
    write(read().filter((t) => t.id !== tap.id));
    if (answer.ok && tap.id === goOn) location.assign(String(said.to));
    else if (answer.ok) say(said.said ?? "Noted.", said.undo, said.more);
    else say(`Not noted: ${said.refused ?? "the hub did not take it."}`);
  }

  async function flush() {
    if (sending) return;
    sending = true;
    clearTimeout(timer);
    let sent = 0;
    try {
      for (let taps = read(); taps.length > 0; taps = read()) {
        await send(taps[0]);
        sent++;
      }
      lost = false;
    } catch {
      lost = true;
      timer = setTimeout(flush, again);
    } finally {
      sending = false;
      show();
      if (sent) document.dispatchEvent(new Event("recoat:noted"));
    }
    if (!lost && read().length > 0) flush(); // made while the last one went
  }

  document.addEventListener("submit", (e) => {
    const form = e.target;
    if (!(form instanceof HTMLFormElement) || form.dataset.tap === undefined) return;
    const id = form.dataset.tap || name();
    const body = new URLSearchParams();
    for (const [name, value] of new FormData(form)) body.append(name, String(value));
    const button = e.submitter;
    if (button instanceof HTMLButtonElement && button.name) body.set(button.name, button.value);
    const made = new Date(Date.now() + ahead).toISOString();
    body.set("tap", id);
    body.set("made", made);
    try {
      write([...read(), { id, made, to: new URL(form.action).pathname, body: body.toString() }]);
    } catch {
      return; // no room to keep it: the form goes by itself
    }
    e.preventDefault();
    goOn = form.dataset.then !== undefined ? id : "";
    flush();
  });

  setClock();
  document.addEventListener("recoat:fresh", setClock);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) flush();
  });
  addEventListener("online", flush);
  addEventListener("storage", show);
  if (read().length > 0) flush();
})();
