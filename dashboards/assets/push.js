// Offers this browser to be told by a push, where it can be: over https, or on
// the machine itself.
(() => {
  "use strict";

  const part = document.getElementById("push");
  if (!part || !("serviceWorker" in navigator) || !("PushManager" in window)) return;
  const on = document.getElementById("push-on");
  const off = document.getElementById("push-off");
  const said = document.getElementById("push-said");

  // The key's letters as the bytes that the browser wants.
  function bytesOf(text) {
    const plain = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
    return Uint8Array.from(plain, (c) => c.charCodeAt(0));
  }

  function show(subscription) {
    part.hidden = false;
    on.hidden = Boolean(subscription);
    off.hidden = !subscription;
  }

  async function post(address, body) {
    const answer = await fetch(address, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
    if (!answer.ok) throw new Error(await answer.text());
  }

  async function attempt(what, done) {
    said.textContent = "";
    try {
      show(await what());
      said.textContent = done;
    } catch (err) {
      said.textContent = err.message || String(err);
    }
  }

  async function begin() {
    const worker = await navigator.serviceWorker.register("/push-worker.js", { scope: "/push/" });
    show(await worker.pushManager.getSubscription());
    on.addEventListener("click", () => attempt(async () => {
      const key = await (await fetch("/push/key")).text();
      const fresh = await worker.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: bytesOf(key) });
      await post("/push", fresh.toJSON());
      return fresh;
    }, "This browser is told by a push. Try the way “push” above."));
    off.addEventListener("click", () => attempt(async () => {
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
