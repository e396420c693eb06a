// Nobody is signed in here: what was kept for pages without network goes.  Readings that
// were not sent yet stay, for whoever typed them.
"use strict";
(async function () {
  if (!window.caches || !navigator.serviceWorker) { return; }
  for (const one of await navigator.serviceWorker.getRegistrations()) { await one.unregister(); }
  for (const name of await caches.keys()) {
    if (name.startsWith("feelerbook-")) { await caches.delete(name); }
  }
}());
