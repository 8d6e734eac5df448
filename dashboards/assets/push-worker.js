// Shows what is pushed, also while no page is open. A tap opens the page Alerts.
self.addEventListener("push", (event) => {
  let told = { title: "recoat", body: "", episode: "" };
  try {
    told = { ...told, ...event.data.json() };
  } catch {
    // What cannot be read is shown as that it came.
  }
  event.waitUntil(self.registration.showNotification(told.title, {
    body: told.body, tag: told.episode || undefined, renotify: Boolean(told.episode), requireInteraction: told.severity === "critical",
  }));
});

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  event.waitUntil(self.clients.openWindow("/alerts"));
});
