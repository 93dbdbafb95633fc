/* What was taken along belongs to who took it: it goes when they sign out, and when somebody else signs in on this device. */
"use strict";
(() => {
  if (!window.caches) return;
  const person = document.querySelector("[data-person]");
  const letGo = async (except = "") => {
    for (const name of await caches.keys()) {
      if (name.startsWith("along ") && !(except && name.endsWith(` ${except}`))) await caches.delete(name);
    }
  };
  letGo(person.dataset.person).catch(() => {});
  const leaving = person.querySelector("form");
  leaving.addEventListener("submit", async (event) => {
    event.preventDefault();
    await letGo().catch(() => {});
    leaving.submit();
  });
})();
