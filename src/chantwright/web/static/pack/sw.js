/**
 * Keeps the pack on the device. Pages and scores are taken in at the first visit, recordings right
 * after it, one by one; a part of a recording that is asked for is cut out of what is kept. A new
 * pack is another version: it is taken in beside the old one, what has not changed is copied over,
 * and it comes into use when the singer says so or no page of the old one is open. A file that is
 * not the one of this pack, as while a new pack is still being put on the site, is not taken in.
 */

/** @type {ServiceWorkerGlobalScope} */
const worker = /** @type {any} */ (self);
/** @type {string} */
const VERSION = "__VERSION__";
/** @typedef {{files: Record<string, string>, sounds: Record<string, Record<string, string>>}} Contents */
const SCOPE = worker.registration.scope;
const PREFIX = `chantwright ${SCOPE} `;
const SUMS = ".sums";
const LIST = "contents.json";

/** @param {string} name */
const address = (name) => new URL(name, SCOPE).href;

/**
 * What earlier versions keep: address -> sum, and where.
 * @returns {Promise<[Cache, Record<string, string>][]>}
 */
async function keptBefore() {
  /** @type {[Cache, Record<string, string>][]} */
  const out = [];
  for (const name of await caches.keys()) {
    if (!name.startsWith(PREFIX)) continue;
    const cache = await caches.open(name);
    const sums = await cache.match(address(SUMS));
    if (sums) out.push([cache, await sums.json()]);
  }
  return out;
}

/** @param {ArrayBuffer} octets */
async function sumOf(octets) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", octets));
  return [...digest.subarray(0, 8)].map((octet) => octet.toString(16).padStart(2, "0")).join("");
}

/**
 * @param {Cache} cache
 * @param {string} name
 * @param {string} sum
 */
async function take(cache, name, sum) {
  const url = address(name);
  if (await cache.match(url)) return;
  for (const [before, sums] of await keptBefore()) {
    const same = sums[name] === sum && (await before.match(url));
    if (same) {
      await cache.put(url, same);
      return;
    }
  }
  const answer = await fetch(url, { cache: "reload" });
  if (answer.status !== 200) throw new Error(`${name}: ${answer.status}`);
  if ((await sumOf(await answer.clone().arrayBuffer())) !== sum) {
    throw new Error(`${name}: not the one of this pack`);
  }
  await cache.put(url, answer);
}

/**
 * What this pack holds. The sum of that list is the version.
 * @param {Cache} cache
 * @returns {Promise<Contents>}
 */
async function contents(cache) {
  await take(cache, LIST, VERSION);
  const kept = await cache.match(address(LIST));
  if (!kept) throw new Error(`${LIST}: not kept`);
  return kept.json();
}

async function install() {
  const cache = await caches.open(PREFIX + VERSION);
  const { files, sounds } = await contents(cache);
  await Promise.all(Object.entries(files).map(([name, sum]) => take(cache, name, sum)));
  const sums = Object.assign({}, files, ...Object.values(sounds));
  await cache.put(address(SUMS), new Response(JSON.stringify(sums)));
}

/** Drop older versions, but first bring over the recordings that have not changed. */
async function activate() {
  const cache = await caches.open(PREFIX + VERSION);
  const { sounds } = await contents(cache);
  for (const [before, sums] of await keptBefore()) {
    for (const kind of Object.values(sounds)) {
      for (const [name, sum] of Object.entries(kind)) {
        const kept = sums[name] === sum && (await before.match(address(name)));
        if (kept && !(await cache.match(address(name)))) await cache.put(address(name), kept);
      }
    }
  }
  for (const name of await caches.keys()) {
    if (name.startsWith(PREFIX) && name !== PREFIX + VERSION) await caches.delete(name);
  }
  await worker.clients.claim();
}

/**
 * Take in the recordings of one kind and tell the page how far it is.
 * @param {string} kind
 * @param {Client} page
 */
async function keepSounds(kind, page) {
  const cache = await caches.open(PREFIX + VERSION);
  const sounds = Object.entries((await contents(cache)).sounds[kind] ?? {});
  let done = 0;
  let failed = 0;
  for (const [name, sum] of sounds) {
    try {
      await take(cache, name, sum);
      done += 1;
    } catch {
      failed += 1;
    }
    page.postMessage({ done, failed, all: sounds.length });
  }
}

/**
 * @param {Request} request
 * @returns {Promise<Response>}
 */
async function answer(request) {
  const url = new URL(request.url);
  url.search = "";
  url.hash = "";
  if (url.href === SCOPE) url.pathname += "index.html";
  const cache = await caches.open(PREFIX + VERSION);
  const kept = await cache.match(url.href);
  if (!kept) return fetch(request);
  const range = /^bytes=(\d*)-(\d*)$/.exec(request.headers.get("range") ?? "");
  return range ? part(kept, range[1], range[2]) : kept;
}

/**
 * A part of what is kept (RFC 9110, section 14).
 * @param {Response} kept
 * @param {string} first
 * @param {string} last
 */
async function part(kept, first, last) {
  const whole = await kept.blob();
  const size = whole.size;
  const from = first === "" ? Math.max(0, size - Number(last)) : Number(first);
  const to = first === "" || last === "" ? size - 1 : Math.min(Number(last), size - 1);
  if (from > to) {
    return new Response(null, { status: 416, headers: { "Content-Range": `bytes */${size}` } });
  }
  return new Response(whole.slice(from, to + 1), {
    status: 206,
    headers: {
      "Content-Type": kept.headers.get("content-type") ?? whole.type,
      "Content-Range": `bytes ${from}-${to}/${size}`,
      "Content-Length": String(to - from + 1),
      "Accept-Ranges": "bytes",
    },
  });
}

worker.addEventListener("install", (event) => event.waitUntil(install()));
worker.addEventListener("activate", (event) => event.waitUntil(activate()));
worker.addEventListener("message", (event) => {
  if (event.data === "take over") event.waitUntil(worker.skipWaiting());
  else if (event.data?.keep && event.source instanceof Client) {
    event.waitUntil(keepSounds(event.data.keep, event.source));
  }
});
worker.addEventListener("fetch", (event) => {
  const { method, url } = event.request;
  if (method === "GET" && url.startsWith(SCOPE)) event.respondWith(answer(event.request));
});
