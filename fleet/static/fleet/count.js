// Counting where the connection comes and goes. Each tap is an entry of the outbox, so that it arrives, and counts once.
// Without this file the form does it all.
"use strict";
(() => {
  const form = document.getElementById("counting");
  if (!form) return;
  const path = new URL(form.dataset.send, location.href).pathname;
  const kept = document.getElementById("kept"), notTaken = document.getElementById("not-taken");
  const finds = document.getElementById("finds");
  let open = true;

  const say = (words) => { document.getElementById("said").textContent = words; };

  const line = outbox.queue({
    ...outbox.tapsOf(path, form.dataset.send),
    watch: () => (open ? 15000 : 0),
    on: {
      changed: show,
      sent: take,
      stuck: (became) => outbox.tell(document.getElementById("kept-why"), became),
    },
  });

  function mark(horn, state, words) {
    const row = form.querySelector(`li[data-horn="${Number(horn)}"]`);
    if (!row) return;
    row.classList.remove("waiting");
    row.classList.add(state);
    row.querySelector(".state").textContent = words;
  }

  function show(all) {
    const waiting = all.filter((one) => one.state === "waiting"), refused = all.filter((one) => one.state === "refused");
    kept.hidden = !waiting.length;
    document.getElementById("kept-number").textContent = String(waiting.length);
    waiting.forEach((tap) => tap.horn && mark(tap.horn, "waiting", _s("… kept, not sent yet")));
    notTaken.hidden = !refused.length;
    notTaken.querySelector("ul").replaceChildren(...refused.map((one) =>
      outbox.make("li", {}, `${one.label}: ${one.sentence} `, outbox.button(_s("I have seen to it"), () => line.drop(one)))));
  }

  function keep(horn, number, note) {
    const row = horn ? form.querySelector(`li[data-horn="${Number(horn)}"]`) : null;
    line.add({ kind: "tap", path, horn: horn ? Number(horn) : null, number: number.slice(0, 200), note: note.slice(0, 300),
      place: form.dataset.place ? Number(form.dataset.place) : null, label: row ? row.dataset.number : number.slice(0, 40) });
  }

  function take(taps, told) {
    const refused = taps.filter((tap) => tap.key in told.refused);
    if (refused.length) say("");
    refused.forEach((tap) => tap.horn && mark(tap.horn, "refused", _s("not taken, see above")));
    const typed = taps.filter((tap) => tap.key in told.taken && !tap.horn);
    const [known, unknown] = [false, true].map((is) => typed.filter((tap) => told.unknown.includes(tap.key) === is).map((tap) => told.taken[tap.key]));
    const heard = [];
    if (known.length) heard.push(_s("✓ %(numbers)s seen here", { numbers: known.join(", ") }));
    if (unknown.length) heard.push(_s("%(numbers)s: not in the register, kept as found here", { numbers: unknown.join(", ") }));
    if (heard.length) say(heard.join("; "));
    told.seen.forEach((horn) => mark(horn, "seen", _s("✓ seen")));
    showFinds(told.finds);
    open = told.open;
  }

  function showFinds(all) {
    finds.hidden = !all.length;
    finds.querySelector("ul").replaceChildren(...all.map(({ words, by, undo }) => {
      const back = outbox.make("button", { className: "quiet-button", ariaLabel: _s("Take back %(find)s", { find: words }) }, _s("Take back"));
      back.setAttribute("formaction", undo);
      return outbox.make("li", {}, `${words} `, outbox.make("span", { className: "quiet" }, `(${by})`), " ", back);
    }));
  }

  form.addEventListener("submit", (event) => {
    const button = event.submitter;
    if (button && button.hasAttribute("formaction")) return;
    event.preventDefault();
    const horn = button && button.name === "horn" ? button.value : "";
    const typed = form.elements.number;
    const number = horn ? "" : typed.value.trim();
    if (!horn && !number) { say(_s("Type the register number, or tap a horn.")); return; }
    const note = horn ? form.elements[`note-${horn}`] : null;
    keep(horn, number, note ? note.value.trim() : "");
    if (note) note.value = "";
    const scanned = document.getElementById("scanned");
    if (scanned && horn && scanned.contains(button)) { say(_s("%(number)s: kept. Scan the next label.", { number: scanned.querySelector(".box-title").textContent })); scanned.remove(); }
    if (!horn) { typed.value = ""; say(_s("%(number)s: kept", { number })); typed.focus(); }
  });

  // Enter in a note means the horn it stands under, not the number typed at the top.
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.name || !event.target.name.startsWith("note-")) return;
    event.preventDefault();
    event.target.closest("li").querySelector(".tap").click();
  });

  // Taps that this page kept elsewhere before there was one outbox.
  async function earlier() {
    for (const [name, state] of [[form.dataset.store, "waiting"], [`${form.dataset.store}-not-taken`, "refused"]]) {
      for (const { tapped: at, ...tap } of JSON.parse(localStorage.getItem(name)) || []) {
        await outbox.put({ ...tap, kind: "tap", path, at, state });
      }
      localStorage.removeItem(name);
    }
  }

  scanner(document.getElementById("scan"), document.getElementById("scanner"), {
    read: (code) => { keep("", code, ""); say(_s("Label read.")); }, say,
  });
  earlier().catch(() => {}).then(line.entries).then(show).then(line.send);
})();
