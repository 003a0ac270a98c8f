// Keeps the page's own files, so that it opens without the machine. {version}
const NAME = "rodside-{version}";
const FILES = ["/", "/style.css", "/app.js", "/answer.js", "/book.js", "/link.js", "/microphone.js", "/voice.js", "/worklet.js", "/icon.svg", "/manifest.webmanifest"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(NAME).then((cache) => cache.addAll(FILES.map((file) => new Request(file, { cache: "reload" })))));
  self.skipWaiting();
});
self.addEventListener("activate", (event) => {
  event.waitUntil(caches.keys().then((names) => Promise.all(names.filter((name) => name !== NAME).map((name) => caches.delete(name)))));
  self.clients.claim();
});
self.addEventListener("fetch", (event) => {
  const { pathname } = new URL(event.request.url);
  if (event.request.method === "GET" && FILES.includes(pathname)) {
    event.respondWith(caches.open(NAME).then((cache) => cache.match(pathname)).then((found) => found || fetch(event.request)));
  }
});
