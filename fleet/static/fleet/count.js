// Counting where the connection comes and goes. Each tap gets a key of its own, is kept in the browser, and is sent
// until the server says it has it; the key makes sure that it counts once. Without this file the form does it all.
"use strict";
(() => {
  const form = document.getElementById("counting");
  if (!form) return;
  const store = form.dataset.store, lost = store + "-not-taken";
  const EVERY = 15000, SOON = 4000;
  const kept = document.getElementById("kept"), notTaken = document.getElementById("not-taken");
  const finds = document.getElementById("finds");
  let sending = false, timer = 0, open = true, atOnce = 50;

  const read = (name) => { try { const all = JSON.parse(localStorage.getItem(name)); return Array.isArray(all) ? all : []; } catch { return []; } };
  const write = (name, all) => { if (all.length) localStorage.setItem(name, JSON.stringify(all)); else localStorage.removeItem(name); };
  const say = (words) => { document.getElementById("said").textContent = words; };
  // crypto.randomUUID exists on secure addresses only, and a school's server may be a plain one in the house.
  const newKey = () => [...crypto.getRandomValues(new Uint8Array(16))].map((n) => n.toString(16).padStart(2, "0")).join("");

  function mark(horn, state, words) {
    const row = form.querySelector(`li[data-horn="${Number(horn)}"]`);
    if (!row) return;
    row.classList.remove("waiting");
    row.classList.add(state);
    row.querySelector(".state").textContent = words;
  }

  function show() {
    const waiting = read(store), refused = read(lost);
    kept.hidden = !waiting.length;
    document.getElementById("kept-number").textContent = String(waiting.length);
    waiting.forEach((tap) => tap.horn && mark(tap.horn, "waiting", "… kept, not sent yet"));
    notTaken.hidden = !refused.length;
    notTaken.querySelector("ul").replaceChildren(...refused.map((one) => {
      const item = document.createElement("li"), away = document.createElement("button");
      item.textContent = `${one.label || one.number}: ${one.sentence} `;
      away.type = "button";
      away.className = "quiet-button";
      away.textContent = "I have seen to it";
      away.addEventListener("click", () => { write(lost, read(lost).filter((other) => other.key !== one.key)); show(); });
      item.append(away);
      return item;
    }));
  }

  function keep(horn, number, note) {
    const row = horn ? form.querySelector(`li[data-horn="${Number(horn)}"]`) : null;
    const tap = { key: newKey(), horn: horn ? Number(horn) : null, number: number.slice(0, 200), note: note.slice(0, 300),
      place: form.dataset.place ? Number(form.dataset.place) : null, tapped: Date.now(),
      label: row ? row.dataset.number : number.slice(0, 40) };
    try { write(store, [...read(store), tap]); } catch { return false; }
    show();
    send();
    return true;
  }

  function later(wait) { clearTimeout(timer); timer = setTimeout(send, wait); }

  function why(words) { document.getElementById("kept-why").textContent = words; }

  // One that the site stumbles over must not hold up the others: after a failure they go one by one, that one last.
  function putLast(tap) {
    const all = read(store);
    if (all.length > 1) write(store, [...all.filter((one) => one.key !== tap.key), ...all.filter((one) => one.key === tap.key)]);
  }

  async function send() {
    if (sending) return;
    sending = true;
    clearTimeout(timer);
    const batch = read(store).slice(0, atOnce);
    const now = Date.now();
    let wait = EVERY;
    try {
      const answer = await fetch(form.dataset.send, {
        method: "POST", redirect: "manual",
        headers: { "Content-Type": "application/json", "X-CSRFToken": form.elements.csrfmiddlewaretoken.value },
        body: JSON.stringify({ taps: batch.map(({ key, horn, number, note, place, tapped }) =>
          ({ key, horn, number, note, place, waited: Math.max(0, (now - tapped) / 1000) })) }),
      });
      if (answer.type === "opaqueredirect" || answer.status === 403) {
        // Opening the page again leads through signing in and back here.
        const again = document.createElement("a");
        again.href = location.href;
        again.textContent = "Sign in again on this phone";
        why("You are signed out. ");
        document.getElementById("kept-why").append(again, ": what is kept is sent then.");
      } else if (answer.ok) {
        take(batch, await answer.json());
        atOnce = Math.min(50, atOnce * 2);
        if (read(store).length) wait = 0;
      } else {
        why(`The site could not take them (${answer.status}). They stay here and are tried again.`);
        wait = SOON;
        if (batch.length === 1 && atOnce === 1) putLast(batch[0]);
        atOnce = 1;
      }
    } catch {
      why("No connection. They are sent as soon as there is one. Keep this page open.");
      wait = SOON;
    } finally {
      sending = false;
      show();
      if (open || read(store).length) later(wait);
    }
  }

  function take(batch, told) {
    const done = new Set([...Object.keys(told.taken), ...Object.keys(told.refused)]);
    // Read anew: somebody may have tapped while this was under way.
    write(store, read(store).filter((tap) => !done.has(tap.key)));
    const refused = batch.filter((tap) => tap.key in told.refused);
    if (refused.length) write(lost, [...read(lost), ...refused.map((tap) => ({ ...tap, sentence: told.refused[tap.key] }))]);
    if (refused.length) say("");
    refused.forEach((tap) => tap.horn && mark(tap.horn, "refused", "not taken, see above"));
    const typed = batch.filter((tap) => tap.key in told.taken && !tap.horn);
    const [known, unknown] = [false, true].map((is) => typed.filter((tap) => told.unknown.includes(tap.key) === is).map((tap) => told.taken[tap.key]));
    const heard = [];
    if (known.length) heard.push(`✓ ${known.join(", ")} seen here`);
    if (unknown.length) heard.push(`${unknown.join(", ")}: not in the register, kept as found here`);
    if (heard.length) say(heard.join("; "));
    told.seen.forEach((horn) => mark(horn, "seen", "✓ seen"));
    showFinds(told.finds);
    open = told.open;
  }

  function showFinds(all) {
    finds.hidden = !all.length;
    finds.querySelector("ul").replaceChildren(...all.map((one) => {
      const item = document.createElement("li"), by = document.createElement("span"), back = document.createElement("button");
      by.className = "quiet";
      by.textContent = `(${one.by})`;
      back.className = "quiet-button";
      back.setAttribute("formaction", one.undo);
      back.textContent = "Take back";
      back.setAttribute("aria-label", `Take back ${one.words}`);
      item.append(`${one.words} `, by, " ", back);
      return item;
    }));
  }

  form.addEventListener("submit", (event) => {
    const button = event.submitter;
    if (button && button.hasAttribute("formaction")) return;
    const horn = button && button.name === "horn" ? button.value : "";
    const typed = form.elements.number;
    const number = horn ? "" : typed.value.trim();
    if (!horn && !number) { event.preventDefault(); say("Type the register number, or tap a horn."); return; }
    const note = horn ? form.elements[`note-${horn}`] : null;
    // Where nothing can be kept (a browser's private window may refuse), the form goes the ordinary way.
    if (!keep(horn, number, note ? note.value.trim() : "")) return;
    event.preventDefault();
    if (note) note.value = "";
    const scanned = document.getElementById("scanned");
    if (scanned && horn && scanned.contains(button)) { say(`${scanned.querySelector(".box-title").textContent}: kept. Scan the next label.`); scanned.remove(); }
    if (!horn) { typed.value = ""; say(`${number}: kept`); typed.focus(); }
  });

  // Enter in a note means the horn it stands under, not the number typed at the top.
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.name || !event.target.name.startsWith("note-")) return;
    event.preventDefault();
    event.target.closest("li").querySelector(".tap").click();
  });

  function scanner() {
    const button = document.getElementById("scan"), video = document.getElementById("scanner");
    if (!("BarcodeDetector" in window) || !navigator.mediaDevices) return;
    button.hidden = false;
    let stream = null, last = "";
    button.addEventListener("click", async () => {
      if (stream) { stream.getTracks().forEach((track) => track.stop()); stream = null; video.hidden = true; button.textContent = "Scan with the camera"; return; }
      try { stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } }); } catch { say("The camera cannot be used here. Type the number instead."); return; }
      video.srcObject = stream;
      video.hidden = false;
      button.textContent = "Stop the camera";
      await video.play();
      const eye = new window.BarcodeDetector({ formats: ["qr_code"] });
      const look = async () => {
        if (!stream) return;
        const [code] = await eye.detect(video).catch(() => []);
        // The same label stays in view for a while: it is one sighting.
        if (code && code.rawValue !== last) { last = code.rawValue; keep("", last, ""); say("Label read."); }
        setTimeout(look, 250);
      };
      look();
    });
  }

  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  scanner();
  show();
  send();
})();
