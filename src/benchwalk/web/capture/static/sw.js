// @ts-check
/* The page's own files, from the first load on without network. Nothing else is touched: what is
   sent, and what is answered, goes between the page and the server. */
/// <reference lib="webworker" />
importScripts("/phone/files.js"); // FILES and VERSION, which change with any file
const { FILES, VERSION } = /** @type {any} */ (self);
const NAME = `benchwalk-phone-${VERSION}`;
const OWN = new Set(FILES);

self.addEventListener("install", (/** @type {any} */ event) => {
  const fresh = FILES.map((/** @type {string} */ path) => new Request(path, { cache: "reload" }));
  event.waitUntil(caches.open(NAME).then((cache) => cache.addAll(fresh)));
});

self.addEventListener("activate", (/** @type {any} */ event) => {
  const old = (/** @type {string} */ name) => name.startsWith("benchwalk-phone-") && name !== NAME;
  const cleared = caches.keys().then((names) => Promise.all(names.filter(old).map((name) => caches.delete(name))));
  event.waitUntil(cleared.then(() => /** @type {any} */ (self).clients.claim()));
});

self.addEventListener("fetch", (/** @type {any} */ event) => {
  const { method, url } = event.request;
  const { origin, pathname } = new URL(url);
  if (method !== "GET" || origin !== location.origin || !OWN.has(pathname)) return;
  event.respondWith(caches.open(NAME).then((cache) => cache.match(pathname)).then((held) => held ?? fetch(event.request)));
});
