// Service worker of Line: starts it without the network. It keeps whole builds, one cache each; it never touches readings,
// which are in the device's own database.
"use strict";

const BUILD = new URL(self.location.href).searchParams.get("build") || "unknown";
const CACHE = `line-${BUILD}`;
const PAGE = "/line";
const ALWAYS = ["/line.webmanifest", "/line-icon-192.png", "/line-icon-512.png"];

/** Every file of the program that a text names. */
function programFiles(text) {
  return [...new Set(text.match(/\/_next\/static\/[^"'\\\s)<>]+/g) || [])].map((file) => file.replace(/&amp;/g, "&"));
}

async function fetchKept(url) {
  const response = await fetch(url, { credentials: "same-origin", cache: "no-cache" });
  if (!response.ok || response.redirected) throw new Error(`${url} was not given out (${response.status})`);
  return response;
}

/** Files that a file of the program loads later: parts loaded on demand, and the Latin letters of the type. */
function laterFiles(file, text) {
  if (file.endsWith(".js"))
    return (text.match(/static\/chunks\/[\w.~-]+\.(?:js|css)/g) || []).map((name) => `/_next/${name}`);
  if (!file.endsWith(".css")) return [];
  return [...text.matchAll(/url\(\s*["']?([^"')]+)["']?\s*\)/g)]
    .map((match) => new URL(match[1], new URL(file, self.location.origin)))
    .filter(({ origin, pathname }) => origin === self.location.origin && /latin-wght/.test(pathname))
    .map(({ pathname }) => pathname);
}

/** The page, and all that it names, directly or later: complete, or the build is not installed. */
async function install() {
  const cache = await caches.open(CACHE);
  const page = await fetchKept(PAGE);
  const html = await page.clone().text();
  await cache.put(PAGE, page);
  const known = new Set([...programFiles(html), ...ALWAYS]);
  for (let open = [...known]; open.length > 0; ) {
    const found = await Promise.all(
      open.map(async (file) => {
        const response = await fetchKept(file);
        const text = /\.(?:js|css)$/.test(file) ? await response.clone().text() : "";
        await cache.put(file, response);
        return laterFiles(file, text);
      }),
    );
    open = [...new Set(found.flat())].filter((file) => !known.has(file));
    for (const file of open) known.add(file);
  }
}

async function removeOthers() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith("line-") && name !== CACHE).map((name) => caches.delete(name)));
  await self.clients.claim();
}

/** From the device at once; what is not there yet comes from the server and stays. */
async function fromDevice(request, key) {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(key);
  if (kept) return kept;
  const response = await fetch(request);
  if (response.ok && !response.redirected && response.type === "basic") await cache.put(key, response.clone());
  return response;
}

self.addEventListener("install", (event) => {
  event.waitUntil(install());
});

self.addEventListener("activate", (event) => {
  event.waitUntil(removeOthers());
});

self.addEventListener("message", (event) => {
  if (event.data === "use") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate" && url.pathname === PAGE) event.respondWith(fromDevice(request, PAGE));
  else if (url.pathname.startsWith("/_next/static/") || ALWAYS.includes(url.pathname))
    event.respondWith(fromDevice(request, url.pathname + url.search));
});
