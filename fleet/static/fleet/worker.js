/* Gives the kept page of the cupboard where the site cannot be reached, and sends what waits while every page is closed, where the
 * browser can. What a school keeps lies in one cache named "along", its address and the person who took it along; along.js fills
 * it. Forms are never answered from here.
 *
 * It acts for the pages of a school, and once more for the addresses on labels, which say nothing of a school (LABELS, said by the
 * page that gives this script): there the cupboard answers that keeps the label. Kept for so many days without a connection
 * (`along/kept.json`), it goes by itself.
 */
"use strict";
/* global LABELS */
const BASE = self.registration ? new URL(self.registration.scope).pathname : "/";
const PATIENCE = 5000;
const AWAY = [502, 503, 504]; // a server in front of the site says that it is not there
const DAY = 86400000;

/* The cupboards kept here: their cache's name, the school's address and the person. */
async function cupboards() {
  const all = (await caches.keys()).map((name) => name.split(" ")).filter(([what]) => what === "along");
  const found = all.map(([what, base, by]) => ({ name: `${what} ${base} ${by}`, base, by }));
  return found.filter(({ base }) => BASE === LABELS || base === BASE);
}
const lying = async ({ name }, address) => (await caches.open(name)).match(address);

/* Its page, while it may be kept. */
async function page(cupboard) {
  const { name, base } = cupboard;
  const [shown, about, seen] = await Promise.all(["cupboard/", "kept.json", "seen"].map((part) => lying(cupboard, `${base}along/${part}`)));
  if (!shown || !about) return null;
  const { made, days, horns } = await about.json();
  // By this device's own clock, which may be wrong, and may be put right meanwhile: then the days are counted anew.
  const last = seen ? Number(await seen.text()) : Date.parse(made);
  if (last > Date.now() + DAY) await reached();
  if (Date.now() - last <= days * DAY) return { shown, horns };
  await caches.delete(name);
  return null;
}
async function kept(address) {
  const code = address.pathname.slice(LABELS.length).replace(/\/$/, "").toUpperCase();
  const found = (await Promise.all((await cupboards()).map(page))).filter(Boolean);
  return (BASE === LABELS ? found.find(({ horns }) => horns.some(({ label }) => label === code)) : found[0])?.shown;
}
async function reached() {
  for (const { name, base } of await cupboards()) await (await caches.open(name)).put(`${base}along/seen`, new Response(String(Date.now())));
}

async function opened(event) {
  const late = new Promise((done) => { setTimeout(done, PATIENCE, null); });
  const asked = fetch(event.request);
  const answer = await Promise.race([asked, late]).catch(() => null);
  if (answer && !AWAY.includes(answer.status)) {
    event.waitUntil(reached());
    return answer;
  }
  return (await kept(new URL(event.request.url))) || answer || asked;
}
async function part(request) {
  try { return await fetch(request); } catch (trouble) {
    for (const cupboard of await cupboards()) {
      const found = await lying(cupboard, request);
      if (found) return found;
    }
    throw trouble;
  }
}

self.addEventListener("install", () => { self.skipWaiting(); });
self.addEventListener("activate", (event) => { event.waitUntil(self.clients.claim()); });
self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || new URL(request.url).origin !== location.origin) return;
  // Of the kept page's parts, what the site itself gives is always the newer.
  event.respondWith(request.mode === "navigate" ? opened(event) : part(request));
});

/* What waits, in its order; a page that is open sends its own. What is left is tried again by the browser. */
async function sendWaiting() {
  for (const cupboard of await cupboards()) await sendFrom(cupboard);
}
async function sendFrom({ by, base }) {
  outbox.as(by, base);
  const open = (await self.clients.matchAll({ type: "window", includeUncontrolled: true })).map(({ url }) => new URL(url).pathname);
  const ours = (one) => one.path.startsWith(base) && !open.includes(one.path.split("?")[0]);
  const taps = new Set((await outbox.all()).filter((one) => outbox.isTap(one) && ours(one)).map(({ path }) => path));
  const on = { sent: () => {} };
  const lines = [outbox.queue({ ...outbox.formsOf(ours), on }), ...[...taps].map((path) => outbox.queue({ ...outbox.tapsOf(path), on }))];
  for (const line of lines) await line.once();
  for (const line of lines) if ((await line.entries()).some(({ state }) => state === "waiting")) throw new Error("not all sent yet");
}
if (self.outbox) self.addEventListener("sync", (event) => { event.waitUntil(sendWaiting()); });
