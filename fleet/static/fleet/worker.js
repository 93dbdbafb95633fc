/* Gives the kept page of the cupboard where the site cannot be reached, and nothing else. What a school keeps lies in one cache
 * named "along", its address and the person who took it along; along.js fills it. Forms are never answered from here.
 *
 * Kept for so many days without a connection (data of `along/kept.json`), it goes by itself.
 */
"use strict";
const BASE = new URL(self.registration.scope).pathname;
const PAGE = `${BASE}along/cupboard/`;
const KEPT = `${BASE}along/kept.json`;
const SEEN = `${BASE}along/seen`;
const PATIENCE = 5000;
const AWAY = [502, 503, 504]; // a server in front of the site says that it is not there
const DAY = 86400000;

const mine = async () => (await caches.keys()).find((name) => name.startsWith(`along ${BASE} `));
const kept = async (address) => {
  const name = await mine();
  return name && (await caches.open(name)).match(address);
};

/* The page kept, while it may be kept. */
async function page() {
  const [shown, about, seen] = await Promise.all([kept(PAGE), kept(KEPT), kept(SEEN)]);
  if (!shown || !about) return null;
  const { made, days } = await about.json();
  const last = Math.max(Date.parse(made), seen ? Number(await seen.text()) : 0);
  if (Date.now() - last <= days * DAY) return shown;
  await caches.delete(await mine());
  return null;
}
async function reached() {
  const name = await mine();
  if (name) await (await caches.open(name)).put(SEEN, new Response(String(Date.now())));
}

async function opened(event) {
  const late = new Promise((done) => { setTimeout(done, PATIENCE, null); });
  const asked = fetch(event.request);
  const answer = await Promise.race([asked, late]).catch(() => null);
  if (answer && !AWAY.includes(answer.status)) {
    event.waitUntil(reached());
    return answer;
  }
  return (await page()) || answer || asked;
}

self.addEventListener("install", () => { self.skipWaiting(); });
self.addEventListener("activate", (event) => { event.waitUntil(self.clients.claim()); });
self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || new URL(request.url).origin !== location.origin) return;
  if (request.mode === "navigate") event.respondWith(opened(event));
  // A part of the kept page; what the site itself gives is always the newer.
  else event.respondWith(fetch(request).catch(async (trouble) => { const part = await kept(request); if (part) return part; throw trouble; }));
});
