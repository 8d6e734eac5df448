// Shows what is pushed, also while no page is open. A tap opens the page Alerts.
const pushed = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

pushed.addEventListener("push", (event) => {
  /** @type {PushedAlert} */
  let told = { title: "recoat", body: "", episode: "" };
  try {
    told = { ...told, ...event.data?.json() };
  } catch {
    // What cannot be read is shown as that it came.
  }
  event.waitUntil(pushed.registration.showNotification(told.title, {
    body: told.body, tag: told.episode || undefined, renotify: Boolean(told.episode), requireInteraction: told.severity === "critical",
  }));
});

pushed.addEventListener("notificationclick", (event) => {
  event.notification.close();
  event.waitUntil(pushed.clients.openWindow("/alerts"));
});
