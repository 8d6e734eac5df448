// Offers this browser to be told by a push, where it can be: over https, or on
// the machine itself.
(() => {
  "use strict";

  const part = document.getElementById("push");
  const on = document.getElementById("push-on");
  const off = document.getElementById("push-off");
  const said = document.getElementById("push-said");
  if (!part || !on || !off || !said || !("serviceWorker" in navigator) || !("PushManager" in window)) return;
  const shown = { part, on, off, said };

  /**
   * The key's letters as the bytes that the browser wants.
   * @param {string} text
   */
  function bytesOf(text) {
    const plain = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
    return Uint8Array.from(plain, (c) => c.charCodeAt(0));
  }

  /** @param {PushSubscription | null} subscription */
  function show(subscription) {
    shown.part.hidden = false;
    shown.on.hidden = Boolean(subscription);
    shown.off.hidden = !subscription;
  }

  /**
   * @param {string} address
   * @param {PushSubscriptionJSON} body
   */
  async function post(address, body) {
    const answer = await fetch(address, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
    if (!answer.ok) throw new Error(await answer.text());
  }

  /**
   * @param {() => Promise<PushSubscription | null>} what
   * @param {string} done
   */
  async function attempt(what, done) {
    shown.said.textContent = "";
    try {
      show(await what());
      shown.said.textContent = done;
    } catch (err) {
      shown.said.textContent = (err instanceof Error && err.message) || String(err);
    }
  }

  async function begin() {
    const worker = await navigator.serviceWorker.register("/push-worker.js", { scope: "/push/" });
    show(await worker.pushManager.getSubscription());
    shown.on.addEventListener("click", () => attempt(async () => {
      const key = await (await fetch("/push/key")).text();
      const fresh = await worker.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: bytesOf(key) });
      await post("/push", fresh.toJSON());
      return fresh;
    }, "This browser is told by a push. Try the way “push” above."));
    shown.off.addEventListener("click", () => attempt(async () => {
      const old = await worker.pushManager.getSubscription();
      if (old) {
        await post("/push/stop", { endpoint: old.endpoint });
        await old.unsubscribe();
      }
      return null;
    }, "This browser is told no more."));
  }

  begin().catch(() => {}); // without a worker there is nothing to offer
})();
