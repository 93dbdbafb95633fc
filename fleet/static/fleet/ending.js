// Says two minutes before a session ends that it does. The end that comes when nothing happens is put off while somebody
// wants it to; the other comes however busy a session is. The server may count from a minute before this page came.
"use strict";
(() => {
  const idle = document.querySelector("[data-idle-after]");
  const over = document.querySelector("[data-over-after]");
  if (idle && over) {
    const inTime = (seconds, act) => setTimeout(act, Math.max(0, Number(seconds) - 180) * 1000);
    const later = () => inTime(idle.dataset.idleAfter, () => { idle.hidden = !over.hidden; });
    idle.querySelector("button").addEventListener("click", async () => {
      const answer = await fetch(location.pathname + location.search, { redirect: "manual" });
      if (answer.ok) {
        idle.hidden = true;
        later();
      } else location.reload();
    });
    later();
    inTime(over.dataset.overAfter, () => {
      over.hidden = false;
      idle.hidden = true;
    });
  }
})();
