// The job pages that were open on this phone, for a reload where there is no network. Whatever the network can
// answer, it answers; what is kept is gone after a working day, and as soon as somebody signs in or out.

const PAGES = "job-pages";
const FILES = "files";
const KEPT_MS = 12 * 60 * 60 * 1000;
const JOB = /^\/jobs\/\d+\/$/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== self.location.origin) return;
  if (request.mode === "navigate" && JOB.test(pathname)) event.respondWith(page(request, pathname));
  else if (request.mode === "navigate" && pathname === "/sign-in/") event.waitUntil(caches.delete(PAGES));
  else if (pathname.startsWith("/static/")) event.respondWith(file(request));
});

async function page(request, pathname) {
  const cache = await caches.open(PAGES);
  try {
    const answer = await fetch(request);
    if (answer.ok && !answer.redirected && answer.type === "basic") {
      const kept = new Response(await answer.clone().blob(), { headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": answer.headers.get("Content-Security-Policy") ?? "default-src 'none'", "X-Kept-At": String(Date.now()) } });
      await cache.put(pathname, kept);
    }
    return answer;
  } catch (fault) {
    const kept = await cache.match(pathname);
    if (kept && Date.now() - Number(kept.headers.get("X-Kept-At")) < KEPT_MS) return kept;
    throw fault;
  }
}

async function file(request) {
  const cache = await caches.open(FILES);
  try {
    const answer = await fetch(request);
    if (answer.ok) await cache.put(request, answer.clone());
    return answer;
  } catch (fault) {
    const kept = await cache.match(request);
    if (kept) return kept;
    throw fault;
  }
}
