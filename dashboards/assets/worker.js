// Keeps the last state of the pages that were read, and shows it when the hub is
// out of reach, marked as what it is. It runs where the origin allows: over
// HTTPS, or on the hub itself. It keeps pages and their parts, never answers to
// what was sent, and forgets all at the log-in page.
"use strict";

const kept = "recoat-1";
const pages = ["/", "/plan", "/shelf", "/pieces", "/alerts", "/record"];

function ours(url) {
  return url.origin === self.location.origin;
}

function isPage(url) {
  return pages.includes(url.pathname) || /^\/(room|wall|pieces)\/[^/]+$/.test(url.pathname) || url.pathname === "/wall";
}

// mark puts into a page that it was kept, for the page's own script to say so.
async function mark(answer) {
  const text = (await answer.text()).replace("<body ", "<body data-kept ");
  return new Response(text, { status: 200, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": answer.headers.get("Content-Security-Policy") || "default-src 'self'" } });
}

async function page(request, url) {
  const cache = await caches.open(kept);
  const key = url.pathname;
  try {
    const answer = await fetch(request);
    const type = answer.headers.get("Content-Type") || "";
    if (answer.redirected && new URL(answer.url).pathname === "/login") await caches.delete(kept);
    else if (answer.ok && !url.search && type.startsWith("text/html")) await cache.put(key, answer.clone());
    return answer;
  } catch (away) {
    const last = (await cache.match(key)) || (request.mode === "navigate" ? await cache.match("/") : undefined);
    if (!last) throw away;
    // Only a navigation gets a kept page: a page that fetches itself again
    // must learn that the hub is away.
    if (request.mode !== "navigate") throw away;
    return mark(last);
  }
}

async function asset(request) {
  const cache = await caches.open(kept);
  const have = await cache.match(request.url);
  if (have) return have;
  const answer = await fetch(request);
  if (answer.ok) await cache.put(request.url, answer.clone());
  return answer;
}

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (e) => e.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (e) => {
  const url = new URL(e.request.url);
  if (e.request.method !== "GET" || !ours(url)) return;
  if (url.pathname.startsWith("/assets/")) e.respondWith(asset(e.request));
  else if (url.pathname === "/login") e.waitUntil(caches.delete(kept));
  else if (isPage(url)) e.respondWith(page(e.request, url));
});
