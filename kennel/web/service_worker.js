// The offline shell.  VERSION and SHELL stand above, written by the server.
// Pages: the network first, a copy when it fails or dawdles.  Files: the copy of this version.  /api: never touched.

const FILES = `files-${VERSION}`;
const PAGES = "pages";
const PATIENCE_MS = 4000;
const FRESH_MS = 10 * 60000;
const MOST_PAGES = 80;

let era = 0; // grows when copies are forgotten: what was asked for before is not kept any more
let forgetting = Promise.resolve(); // settles when the copies are gone, or cannot be reached

self.addEventListener("install", (event) => {
  event.waitUntil(keepShell().then(() => self.skipWaiting()));
});

// Without credentials: the pages of the shell hold nothing of anybody.
async function keepShell() {
  const cache = await caches.open(FILES);
  await cache.addAll(SHELL.map((url) => new Request(url, { cache: "reload", credentials: "omit" })));
}

self.addEventListener("activate", (event) => {
  event.waitUntil(forgetOldVersions().then(() => self.clients.claim()));
});

async function forgetOldVersions() {
  for (const name of await caches.keys()) {
    if (name.startsWith("files-") && name !== FILES) await caches.delete(name);
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(event, request, url));
  else if (url.pathname.startsWith("/static/") || url.pathname === "/manifest.webmanifest") {
    event.respondWith(file(request, url));
  }
});

async function file(request, url) {
  const cache = await caches.open(FILES);
  const asked = url.searchParams.get("v");
  const copy = await cache.match(request, { ignoreSearch: true });
  if (copy && (asked === null || asked === VERSION)) return copy;
  try {
    return await fetch(request);
  } catch (error) {
    if (copy) return copy;
    throw error;
  }
}

async function page(event, request, url) {
  const network = fetch(request);
  const asked = era;
  event.waitUntil(network.then((answer) => keep(url, answer, asked)).catch(() => undefined));
  try {
    const first = await Promise.race([network, later()]);
    if (first) return first;
    return (await copyOf(url)) ?? (await network);
  } catch {
    return (await copyOf(url)) ?? (await shellPage(url));
  }
}

function later() {
  return new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, null));
}

// Stores a page that allows it, under its path alone.  Nobody waits for it: a full or slow device still shows pages.
async function keep(url, answer, asked) {
  const isKept = answer.ok && !url.search && answer.headers.get("Offline-Copy") === "yes";
  const copy = isKept ? answer.clone() : null; // before anything is awaited: the page reads the other half
  const cache = await caches.open(PAGES);
  if (answer.status === 404) await cache.delete(url.pathname);
  if (!copy) return;
  const headers = new Headers(answer.headers);
  headers.set("Kept-At", new Date().toISOString());
  for (const name of ["Content-Encoding", "Content-Length"]) headers.delete(name); // the body lies here unpacked
  const body = await copy.blob();
  if (asked !== era) return;
  await cache.put(url.pathname, new Response(body, { status: 200, headers }));
  await forgetBeyond(cache);
}

async function forgetBeyond(cache) {
  const keys = await cache.keys();
  for (const key of keys.slice(0, Math.max(0, keys.length - MOST_PAGES))) await cache.delete(key);
}

// The copy says when it was made, so that the page can say it too.
async function copyOf(url) {
  const copy = await (await caches.open(PAGES)).match(url.pathname);
  if (!copy) return null;
  const text = (await copy.text()).replace("<body", `<body data-kept-at="${copy.headers.get("Kept-At")}"`);
  return new Response(text, { status: 200, headers: copy.headers });
}

async function shellPage(url) {
  const cache = await caches.open(FILES);
  const copy = (await cache.match(url.pathname)) ?? (await cache.match("/offline"));
  const text = (await copy.text()).replace("<body", `<body data-without-network="yes"`);
  return new Response(text, { status: 200, headers: copy.headers });
}

self.addEventListener("message", (event) => {
  const { keep: wanted, forget } = event.data ?? {};
  if (forget) {
    era += 1;
    forgetting = forgetting.then(() => forgetPages(forget)).catch(() => undefined);
    event.waitUntil(forgetting);
  }
  if (wanted) event.waitUntil(forgetting.then(() => keepEach(wanted)));
});

async function keepEach(paths) {
  const cache = await caches.open(PAGES);
  for (const path of paths) {
    const copy = await cache.match(path);
    const age = copy ? Date.now() - Date.parse(copy.headers.get("Kept-At")) : Infinity;
    if (age < FRESH_MS) continue;
    const asked = era;
    try {
      await keep(new URL(path, self.location.origin), await fetch(path, { redirect: "manual" }), asked);
    } catch {
      return; // no network: the next page will ask again
    }
  }
}

async function forgetPages(kennel) {
  const cache = await caches.open(PAGES);
  for (const key of await cache.keys()) {
    const { pathname } = new URL(key.url);
    if (kennel === "all" || pathname.startsWith(`/kennels/${kennel}`)) await cache.delete(key);
  }
}
