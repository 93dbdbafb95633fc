/* A condition check, or a return or swap with its check, is kept in the outbox while it is typed, and sent from there.
 *
 * <form data-kept data-name="Check of HN-0004" data-seen="17"> is one. What is typed lies there, pictures too,
 * under the person, the page's address and the id the check carries, so that two people may share a tablet and two pages
 * may be open about one horn. The id is made here: however often the check is sent, the server keeps it once.
 * <form data-kept-tap> beside it is saved by one tap in the same way. [data-kept-list] on another page sends what waits and
 * names the rest, on Today with [data-walks] the walks that were left too. Without script the forms work as any others.
 */
(() => {
  "use strict";
  const NOT_KEPT = new Set(["csrfmiddlewaretoken", "age", "whole"]);
  const form = document.querySelector("form[data-kept]");
  const list = document.querySelector("[data-kept-list]");
  const clock = (at) => new Date(at).toLocaleTimeString(spoken, { hour: "2-digit", minute: "2-digit" });

  function showList() {
    const sent = [], others = [];
    const kinds = "walks" in list.dataset ? ["form", "walk"] : ["form"];
    const words = {
      draft: _s("begun, not saved yet"),
      refused: _s("something must be put right: open it"),
      sent: _s("sent"),
      waiting: _s("saved without a connection: open it to send it"),
    };
    const row = (entry) => {
      const link = outbox.make("a", { href: entry.path }, entry.name);
      const left = entry.kind === "walk";
      // Gone on with, it is the same walk (kept-walk.js).
      if (left) link.onclick = () => sessionStorage.setItem("walk", entry.key);
      const why = outbox.make("span", { className: "why" }, left ? _s("left before its end") : (entry.state === "refused" && entry.sentence) || words[entry.state]);
      if (entry.state === "draft" || entry.state === "refused") why.append(" ", outbox.throwAway(() => line.drop(entry)));
      const day = new Date(entry.at).toLocaleDateString(spoken, { day: "numeric", month: "short" });
      return outbox.make("li", {}, link, " ", why, " ", outbox.make("span", { className: "when" }, `${day}, ${clock(entry.at)}`));
    };
    const show = (all) => {
      list.querySelector("ul").replaceChildren(...[...sent, ...all].map(row), ...others);
      list.hidden = !list.querySelector("li");
    };
    const line = outbox.queue({
      mine: (one) => kinds.includes(one.kind) && one.path.startsWith(list.dataset.under),
      body: outbox.formLetter,
      sender: "kept",
      on: { changed: show, sent: ([one], { to }) => { sent.push({ ...one, state: "sent", path: to }); } },
    });
    const other = (path, name) => {
      const why = outbox.make("span", { className: "why" });
      others.push(outbox.make("li", {}, outbox.make("a", { href: path }, name), " ", why));
      return why;
    };
    line.entries().then(show).then(line.send).then(() => sendTaps(other)).then(line.entries).then(show);
  }

  /* What was counted without a connection, whose own page tells what the site made of it; and horns that came back, which wait for
   * the page that takes them back. */
  async function sendTaps(other) {
    const all = (await outbox.all()).filter((one) => one.path.startsWith(list.dataset.under));
    const paths = (kept) => new Set(kept.map((one) => one.path));
    const numbers = all.filter((one) => one.kind === "number");
    for (const path of paths(numbers)) {
      const back = numbers.filter((one) => one.path === path).map((one) => one.number);
      other(path, _s("Horns that came back")).textContent = _s("%(numbers)s: take them back", { numbers: back.join(", ") });
    }
    for (const path of paths(all.filter(outbox.isTap))) {
      const why = other(path.replace(/sent\/$/, ""), _s("Horns counted"));
      const tell = (taps) => {
        const waiting = taps.filter((one) => one.state === "waiting").length, refused = taps.length - waiting;
        if (waiting) why.textContent = _s("%(many)s counted without a connection", { many: waiting });
        else why.textContent = refused ? _s("%(many)s not taken: open the count", { many: refused }) : _s("sent");
      };
      const line = outbox.queue({
        ...outbox.tapsOf(path),
        on: { changed: tell, sent: () => {} },
      });
      line.entries().then(tell).then(line.send);
    }
  }

  function keepForm() {
    const { name, seen, bound } = form.dataset;
    const path = location.pathname;
    const note = form.querySelector("[data-kept-note]");
    const button = form.querySelector("button.main");
    let at = Date.now();
    let current = ""; // the key of what was saved here: the form, or the one tap beside it
    let to = ""; // where to go when that is sent
    let gone = false; // nothing more is taken from this page

    const keyOf = (of) => `${outbox.by} ${path} ${of.elements.sent_as.value}`;
    const keep = (of = form, pressed = []) => {
      last = last.then(() => {
        const key = keyOf(of);
        const state = key === current ? { state: "waiting" } : { state: "draft", until: at + outbox.DRAFT_DAYS * 86400000 };
        const isKept = ([field, value]) => !NOT_KEPT.has(field) && !(value instanceof File && !value.size);
        const fields = [...new FormData(of), ...pressed].filter(isKept);
        return gone || outbox.put({ key, kind: "form", path, name, seen, at, ...state, tap: of !== form, fields });
      });
      return last;
    };

    const restore = (entry) => {
      const values = (name) => entry.fields.filter(([field]) => field === name).map(([, value]) => value);
      for (const field of form.elements) {
        const had = values(field.name);
        // What the page knew when it was opened is known anew.
        if (!field.name || NOT_KEPT.has(field.name) || field.name === "seen") continue;
        if (field.type === "checkbox" || field.type === "radio") field.checked = had.includes(field.value);
        else if (had.length && field.type === "file") { smaller.fill(field, had[0]); const fold = field.closest("details"); if (fold) fold.open = true; }
        else if (had.length) field.value = had[0];
      }
      // The drawing was tapped for these, whatever was typed before.
      for (const tapped of form.querySelectorAll("[data-tapped]")) tapped.checked = true;
      for (const ticked of form.querySelectorAll("details input:checked")) ticked.closest("details").open = true;
      for (const value of values("kept")) form.append(outbox.make("input", { type: "hidden", name: "kept", value }));
      const parts = form.querySelector("[hx-post]");
      if (parts && navigator.onLine) parts.dispatchEvent(new Event("change", { bubbles: false }));
    };

    /* Something must be put right: the server's page holds what was typed and says what. */
    const putRight = async (entry, page) => {
      gone = true;
      document.open();
      document.write(page);
      document.close();
      // What is wrong stands at the top; whoever pressed the button was at the foot.
      window.scrollTo(0, 0);
      (document.querySelector("[role=alert][autofocus]") ?? document.getElementById("main"))?.focus({ preventScroll: true });
      const id = document.querySelector("form[data-kept] [name=sent_as]")?.value;
      if (!entry.tap && (!id || entry.key.endsWith(id))) return;
      // The page has a new id for what is saved next: what is kept moves there, and only then leaves its old place.
      const fields = entry.fields.map(([field, value]) => [field, field === "sent_as" ? id : value]);
      if (!entry.tap) await outbox.put({ ...entry, state: "refused", fields, key: `${entry.by} ${entry.path} ${id}` });
      await outbox.remove(entry);
    };

    const line = outbox.queue({
      mine: (one) => one.kind === "form" && one.path === path,
      body: outbox.formLetter,
      on: {
        sending: () => { button.disabled = true; },
        sent: ([one], told) => { if (one.key === current) ({ to } = told); },
        refused: putRight,
        stuck: (became) => outbox.tell(note, became),
        rest: () => {
          button.disabled = gone ||= to !== "";
          if (to) location.assign(to);
        },
      },
    });

    const typed = ({ target }) => {
      at = Date.now();
      if (target.type === "file") last = last.then(() => smaller.chosen(target)).catch(() => {});
      keep();
    };
    form.addEventListener("input", typed);
    form.addEventListener("change", typed);
    for (const one of [form, document.querySelector("form[data-kept-tap]")]) one?.addEventListener("submit", async (event) => {
      event.preventDefault();
      if (button.disabled) return;
      button.disabled = true;
      const { submitter } = event;
      await last;
      at = Date.now();
      current = keyOf(one);
      await keep(one, one === form ? [] : [[submitter.name, submitter.value]]);
      line.send();
    });
    // Back to a page from before it was sent: begin from what the server knows and from what is kept.
    window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });

    async function begin() {
      const mine = await line.entries();
      form.elements.sent_as.value = outbox.newId();
      // What was saved goes first, in its order; of what was only begun, the newest.
      const begun = mine.filter((one) => one.state !== "waiting").sort((a, b) => b.at - a.at);
      const entry = mine.find((one) => one.state === "waiting") || begun[0];
      if (!entry) return;
      ({ at } = entry);
      if (!entry.tap) restore(entry);
      if (entry.state === "waiting") { current = entry.key; line.send(); return; }
      // What is told of it stands above the form: the bar at its foot has no room for a reason.
      const told = outbox.make("div", { className: "box notice", role: "status" });
      form.before(told);
      const refusal = _s("%(name)s could not be taken. %(sentence)s", entry);
      if (entry.tap) { outbox.say(told, refusal, outbox.throwAway(() => outbox.remove(entry).then(() => outbox.say(told, "")))); return; }
      const refused = entry.state === "refused" && entry.sentence;
      const since = entry.seen === seen || refused ? "" : _s("Somebody has checked this horn since: look again before you save.");
      const afresh = outbox.button(_s("Start afresh"), () => outbox.remove(entry).then(() => location.assign(location.href)));
      const back = _s("What you typed at %(time)s is back.", { time: clock(entry.at) });
      outbox.say(told, [refused && refusal, back, since].filter(Boolean).join(" "), afresh);
    }
    let last = bound ? Promise.resolve() : begin().catch(() => {});
    if (bound) keep();
  }

  if (list) showList();
  else if (form) keepForm();
})();
