// The job pages that were open on this phone, for a reload where there is no network. Whatever the network can
// answer, it answers. A page is kept for the person whose it is, until that person's working day is over, or as soon
// as somebody signs in or out. There are never two people's: those of one go before another's come.

const PAGES = "job-pages";
const FILES = "files";
const KEPT_MS = 12 * 60 * 60 * 1000;
const JOB = /^\/jobs\/\d+\/$/;
let drops = 0; // how often pages were dropped: an answer asked for before the last time is not kept after it

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(caches.delete(PAGES).then(() => self.clients.claim())));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== self.location.origin) return;
  if (pathname === "/sign-out/" || (request.mode === "navigate" && pathname === "/sign-in/")) event.waitUntil(drop());
  if (request.method !== "GET") return;
  if (request.mode === "navigate" && JOB.test(pathname)) event.respondWith(page(event, pathname));
  else if (pathname.startsWith("/static/")) event.respondWith(file(request));
});

const kept = async () => (await caches.keys()).filter((name) => name.startsWith(`${PAGES}:`));

/** Nobody is signed in, or somebody else is about to be. */
async function drop() {
  drops += 1;
  for (const name of [...(await kept()), FILES]) await caches.delete(name);
}

async function page(event, pathname) {
  const before = drops;
  try {
    const answer = await fetch(event.request);
    const person = answer.headers.get("X-Person");
    if (person) await dropOthers(person);
    if (answer.ok && !answer.redirected && answer.type === "basic" && person && before === drops) await keep(pathname, person, answer.clone());
    return answer;
  } catch (fault) {
    const [name, another] = await kept();
    const found = name && !another && (await (await caches.open(name)).match(pathname));
    if (!found || before !== drops) throw fault;
    if (Date.now() - Number(found.headers.get("X-Kept-At")) < KEPT_MS) return found;
    await caches.delete(name);
    throw fault;
  }
}

async function dropOthers(person) {
  for (const name of await kept()) if (name !== `${PAGES}:${person}`) await caches.delete(name);
}

/** The page says of itself that it is a kept one, so that its script asks whose the phone is now. */
async function keep(pathname, person, answer) {
  const text = (await answer.text()).replace('<section id="outbox"', '<section id="outbox" data-kept="yes"');
  const headers = { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": answer.headers.get("Content-Security-Policy") ?? "default-src 'none'", "X-Kept-At": String(Date.now()) };
  const cache = await caches.open(`${PAGES}:${person}`);
  await cache.put(pathname, new Response(text, { headers }));
}

async function file(request) {
  const cache = await caches.open(FILES);
  try {
    const answer = await fetch(request);
    if (answer.ok) await cache.put(request, answer.clone());
    return answer;
  } catch (fault) {
    const found = await cache.match(request);
    if (found) return found;
    throw fault;
  }
}
