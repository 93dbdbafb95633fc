/* Takes the cupboard along: keeps the parts that the page names in one cache, says how much that is and since when, renews and
 * erases it. [data-along] names the address of the school, of the worker and the person; the parts stand in a list beside it.
 */
"use strict";
(() => {
  const place = document.querySelector("[data-along]");
  const { along: base, labels, worker, by } = place.dataset;
  const parts = JSON.parse(document.getElementById("parts").textContent);
  const name = `along ${base} ${by}`;
  const said = (what) => place.querySelector(`[data-${what}]`);
  const [take, erase, state] = [said("take"), said("erase"), said("state")];
  const about = `${base}along/kept.json`;

  async function show(words = "") {
    const cache = (await caches.has(name)) && (await caches.open(name));
    const held = cache && await cache.match(about);
    erase.hidden = !held;
    take.textContent = held ? _s("Renew it") : _s("Take it along");
    if (!held) { state.textContent = words || _s("Nothing is kept on this device."); return; }
    const sizes = await Promise.all(parts.map(async (part) => (await (await cache.match(part))?.blob())?.size || 0));
    const size = Math.round(sizes.reduce((sum, one) => sum + one, 0) / 1000);
    const { made, horns } = await held.json();
    const when = new Date(made).toLocaleString(spoken, { dateStyle: "medium", timeStyle: "short" });
    const kept = _s_many("Kept on this device since %(when)s: %(count)s horn, %(size)s kB.", "Kept on this device since %(when)s: %(count)s horns, %(size)s kB.", horns.length, { when, size });
    state.textContent = [words, kept].filter(Boolean).join(" ");
  }

  async function keep() {
    // Once for the pages of the school, once for the addresses on labels.
    await navigator.serviceWorker.register(worker, { scope: base });
    await navigator.serviceWorker.register(`${worker}?labels`, { scope: labels });
    // All of it or nothing: what was kept before stays until the last part is here.
    const found = await Promise.all(parts.map(async (part) => {
      const answer = await fetch(part, { credentials: "same-origin", redirect: "error", cache: "no-cache" });
      if (!answer.ok) throw new Error(part);
      return [part, answer];
    }));
    const cache = await caches.open(name);
    for (const [part, answer] of found) await cache.put(part, answer);
    await cache.put(`${base}along/seen`, new Response(String(Date.now())));
    for (const old of await cache.keys()) if (![...parts, `${base}along/seen`].includes(new URL(old.url).pathname)) await cache.delete(old);
  }
  async function forget() {
    await caches.delete(name);
    const others = (await caches.keys()).some((one) => one.startsWith("along "));
    for (const scope of others ? [base] : [base, labels]) await (await navigator.serviceWorker.getRegistration(scope))?.unregister();
  }

  const busy = (act, words) => async () => {
    take.disabled = erase.disabled = true;
    try { await act(); await show(words); } catch { await show(_s("That did not work: is there a connection, and room on this device?")); }
    take.disabled = erase.disabled = false;
  };
  if (!("serviceWorker" in navigator) || !window.caches) {
    state.textContent = _s("This browser keeps nothing for where there is no connection: it is too old, or the site is not on https.");
    return;
  }
  take.onclick = busy(keep, _s("Done."));
  erase.onclick = busy(forget, _s("Erased."));
  take.hidden = false;
  show();
})();
