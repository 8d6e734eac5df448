// Keeps the last state of the pages that were read, and shows it when the hub is
// out of reach, marked as what it is. It runs where the origin allows: over
// HTTPS, or on the hub itself. It keeps pages and their parts, never answers to
// what was sent, and forgets all at the log-in page.
"use strict";

const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));
const kept = "recoat-1";
const pages = ["/", "/plan", "/shelf", "/pieces", "/alerts", "/record"];

/** @param {URL} url */
function ours(url) {
  return url.origin === worker.location.origin;
}

/** @param {URL} url */
function isPage(url) {
  return pages.includes(url.pathname) || /^\/(room|wall|pieces)\/[^/]+$/.test(url.pathname) || url.pathname === "/wall";
}

/**
 * Puts into a page that it was kept, for the page's own script to say so.
 * @param {Response} answer
 */
async function mark(answer) {
  const text = (await answer.text()).replace("<body ", "<body data-kept ");
  return new Response(text, { status: 200, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": answer.headers.get("Content-Security-Policy") || "default-src 'self'" } });
}

/**
 * @param {Request} request
 * @param {URL} url
 */
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

/** @param {Request} request */
async function asset(request) {
  const cache = await caches.open(kept);
  const have = await cache.match(request.url);
  if (have) return have;
  const answer = await fetch(request);
  if (answer.ok) await cache.put(request.url, answer.clone());
  return answer;
}

worker.addEventListener("install", () => worker.skipWaiting());
worker.addEventListener("activate", (e) => e.waitUntil(worker.clients.claim()));
worker.addEventListener("fetch", (e) => {
  const url = new URL(e.request.url);
  if (e.request.method !== "GET" || !ours(url)) return;
  if (url.pathname.startsWith("/assets/")) e.respondWith(asset(e.request));
  else if (url.pathname === "/login") e.waitUntil(caches.delete(kept));
  else if (isPage(url)) e.respondWith(page(e.request, url));
});
