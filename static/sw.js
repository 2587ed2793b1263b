/* The worker keeps one whole version of the app on the phone, so that it opens with no signal. The server puts two
   constants before this text: ASSETS, the addresses of the shell, and VERSION, made from their names and contents.
   Photos and records are never in its cache, and nothing under /api/ passes through it. */

const OURS = 'fellside-shell-';
const CACHE = OURS + VERSION;
const SHELL = '/';
const KEPT = new Set(ASSETS);

/** Fetch one address past the browser's own cache; a login page or an error in its place is refused. */
async function fetchFresh(address) {
  const answer = await fetch(address, { cache: 'reload' });
  if (!answer.ok || answer.redirected || answer.type !== 'basic') {
    throw new Error(`${address} was answered with ${answer.status}${answer.redirected ? ' from elsewhere' : ''}`);
  }
  return answer;
}

/** Fill the cache of this version, whole or not at all: half a version must never be found later. */
async function fill() {
  const cache = await caches.open(CACHE);
  try {
    const answers = await Promise.all(ASSETS.map(fetchFresh));
    await Promise.all(answers.map((answer, at) => cache.put(ASSETS[at], answer)));
  } catch (fault) {
    await caches.delete(CACHE);
    throw fault;
  }
}

async function dropOlder() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(OURS) && name !== CACHE).map((name) => caches.delete(name)));
}

/** Answer from the cache of this version; the network only where the browser itself has emptied the cache. */
async function answer(address) {
  const cache = await caches.open(CACHE);
  return (await cache.match(address)) ?? fetch(address);
}

self.addEventListener('install', (ev) => ev.waitUntil(fill()));

self.addEventListener('activate', (ev) => ev.waitUntil(dropOlder().then(() => self.clients.claim())));

// A new version waits here until a person says so: never under an open form.
self.addEventListener('message', (ev) => {
  if (ev.data === 'SKIP') self.skipWaiting();
});

self.addEventListener('fetch', (ev) => {
  const { request } = ev;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== 'GET' || origin !== self.location.origin || pathname.startsWith('/api/')) return;
  if (request.mode === 'navigate') ev.respondWith(answer(SHELL));
  else if (KEPT.has(pathname)) ev.respondWith(answer(pathname));
});
