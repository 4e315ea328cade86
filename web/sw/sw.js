// Keeps the screens on the device, so that they open in a hole of the Wi-Fi. It exists on https and at the ship's own
// computer only. The build writes the version and the list of files (sw/plugin.ts); it holds no data of the ship and
// never answers what lies under /api/. A new version waits until a page tells it to take over.
const VERSION = '__VERSION__';
const FILES = __FILES__;
const CACHE = `gangion-${VERSION}`;
const PAGES = ['/', '/index.html', '/enrol'];

self.addEventListener('install', (event) => {
  // All or nothing: a shell with a file missing would be a blank page at sea.
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(FILES.map((file) => new Request(file, { cache: 'reload' })))));
});

self.addEventListener('activate', (event) => {
  const old = caches.keys().then((names) => Promise.all(names.filter((name) => name.startsWith('gangion-') && name !== CACHE).map((name) => caches.delete(name))));
  event.waitUntil(old.then(() => self.clients.claim()));
});

self.addEventListener('message', (event) => {
  if (event.data === 'take over') void self.skipWaiting();
});

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== self.location.origin || url.pathname.startsWith('/api/')) return;
  const page = request.mode === 'navigate' && PAGES.includes(url.pathname);
  const kept = page ? '/' : url.pathname;
  if (!FILES.includes(kept)) return;
  // A browser short of room may have thrown the cache away; then the ship is asked as without a worker.
  event.respondWith(caches.open(CACHE).then((cache) => cache.match(kept)).then((found) => found ?? fetch(request)));
});
