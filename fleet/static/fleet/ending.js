// Says two minutes before a session ends that it does, and keeps it while somebody wants it to go on. The server may count
// from a minute before this page came.
"use strict";

const said = document.querySelector("[data-ends-after]");
if (said) {
  const before = Math.max(0, Number(said.dataset.endsAfter) - 180) * 1000;
  const later = () => setTimeout(() => { said.hidden = false; }, before);
  said.querySelector("button").addEventListener("click", async () => {
    const answer = await fetch(location.pathname + location.search, { redirect: "manual" });
    if (answer.ok) {
      said.hidden = true;
      later();
    } else location.reload();
  });
  later();
}
