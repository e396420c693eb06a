// Keeps the shell of the block, and nothing of anybody: see deploy/keeping/device.py.
"use strict";
const SHELL = "{{ shell|escapejs }}";
const FILES = [{% for file in files %}"{{ file|escapejs }}"{% if not forloop.last %}, {% endif %}{% endfor %}];
const STORE = "feelerbook-block-{{ mark }}";

addEventListener("install", event => {
  event.waitUntil(caches.open(STORE).then(store => store.addAll(FILES)).then(() => self.skipWaiting()));
});

addEventListener("activate", event => {
  event.waitUntil(caches.keys().then(names => Promise.all(names
    .filter(name => name.startsWith("feelerbook-block-") && name !== STORE)
    .map(name => caches.delete(name)))));
});

// From the network always, while there is one; readings are sent by the page itself.
addEventListener("fetch", event => {
  const { request } = event;
  const path = new URL(request.url).pathname;
  const isBlock = request.mode === "navigate" && /^\/sheet\/[\w-]+\/block$/.test(path);
  if (request.method !== "GET" || !(isBlock || FILES.includes(path))) { return; }
  const instead = isBlock ? SHELL : path;
  event.respondWith(fetch(request).catch(async () => {
    const store = await caches.open(STORE);
    return await store.match(instead) || Response.error();
  }));
});
