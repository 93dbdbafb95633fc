/* The outbox: what must reach the site although the connection comes and goes. Never lost, never twice, never by another.
 *
 * An entry lies in the browser's own database until the site has it:
 *   key          put again under the same key it is replaced
 *   by           the person: nobody else on this device is shown it, and it is sent in nobody else's name
 *   kind, path   what it is, and the address that it goes to
 *   at, order    when, in ms by this device's clock; its place in the row
 *   state        "draft", "waiting" to be sent, or "refused", with the site's `sentence`, until the person decides
 *   until        when it may go unsent, in ms; else it stays
 * Whatever else a page puts into an entry is that page's own. A page opens a queue of its entries and is told what happens.
 * An entry with `after` is about what the entry with that key makes, and is sent once the site has named it (`named`).
 * Only our own 201 counts as sent, and only our own 409 and 422 as refused: what stands between here and the site may answer
 * anything. All else is tried again, an old token after looking who is signed in now.
 */
"use strict";
self.outbox = (() => {
  const FIRST_WAIT = 4000;
  const LONGEST_WAIT = 60000;
  const DRAFT_DAYS = 14;
  // A worker has no page: it says itself whose entries it sends, and which page tells who is signed in (as).
  const mast = self.document?.querySelector("[data-person]");
  let by = mast?.dataset.person, home = "";
  const proof = mast?.querySelector("[name=csrfmiddlewaretoken]") ?? { value: "" };
  const memory = new Map(); // what this browser refuses to keep: it lives as long as the page
  let newest = 0;

  const next = () => { newest = Math.max(newest + 1, Date.now()); return newest; };
  const parsed = (text) => new DOMParser().parseFromString(text, "text/html");
  const personIn = (text) => /\sdata-person="(\d+)"/.exec(text)?.[1];
  const tokenIn = (text) => /name="csrfmiddlewaretoken" value="(\w+)"/.exec(text)?.[1];
  const page = async (address) => parsed(await (await fetch(address, { credentials: "same-origin" })).text());
  const waited = ({ at }) => Math.max(0, (Date.now() - at) / 1000);

  /* crypto.randomUUID is missing where a school serves the site without TLS. */
  const random = (bits) => crypto.getRandomValues(new Uint8Array(1))[0] & bits;
  const digit = (at) => (at === "x" ? random(15) : 8 | random(3)).toString(16);
  const newId = () => "xxxxxxxx-xxxx-4xxx-yxxx-xxxxxxxxxxxx".replace(/[xy]/g, digit);

  /* A page that was left while it wrote can make the next page's first reading fail. */
  const patiently = (task, tries = 4) => task().catch(async (trouble) => {
    if (tries === 1) throw trouble;
    await new Promise((done) => { setTimeout(done, 500); });
    return patiently(task, tries - 1);
  });
  const database = patiently(() => new Promise((done, failed) => {
    const opening = indexedDB.open("horn-cupboard", 2);
    opening.onupgradeneeded = ({ oldVersion }) => {
      const entries = opening.result.createObjectStore("entries", { keyPath: "key" });
      // Checks from before there was one outbox.
      if (oldVersion === 1) opening.transaction.objectStore("checks").getAll().onsuccess = ({ target }) => {
        for (const { waiting, files, ...one } of target.result) {
          const how = waiting ? { state: "waiting" } : { state: "draft", until: one.at + DRAFT_DAYS * 86400000 };
          entries.put({ ...one, ...how, kind: "form", order: one.at, fields: [...one.fields, ...files] });
        }
        opening.result.deleteObjectStore("checks");
      };
    };
    opening.onerror = () => failed(opening.error);
    opening.onsuccess = () => {
      opening.result.onversionchange = () => opening.result.close();
      done(opening.result);
    };
  }));
  database.catch(() => {});
  const work = async (mode, task) => {
    const change = (await database).transaction("entries", mode);
    return new Promise((done, failed) => {
      const asked = task(change.objectStore("entries"), change);
      change.oncomplete = () => done(asked.result);
      change.onabort = change.onerror = () => failed(change.error);
    });
  };
  const put = (given) => {
    const entry = { key: newId(), by, at: Date.now(), order: next(), state: "waiting", ...given };
    return work("readwrite", (entries, change) => {
      const asked = entries.put(entry);
      change.commit?.(); // at once: the page may be left in this moment
      return asked;
    }).then(() => { memory.delete(entry.key); if (entry.state === "waiting") sendLater(); }, () => memory.set(entry.key, entry));
  };
  /* Where a worker is there and the browser can, it sends what waits although every page is closed. */
  const sendLater = () => navigator.serviceWorker?.ready.then((worker) => worker.sync?.register("outbox")).catch(() => {});
  const remove = ({ key }) => {
    memory.delete(key);
    return work("readwrite", (entries) => entries.delete(key)).catch(() => {});
  };
  /* Thrown away, with what is about the horn that it would have made. */
  const discard = async (one) => {
    for (const other of await all()) if (other.after === one.key) await remove(other);
    await remove(one);
  };
  const stored = () => database.then(() => patiently(() => work("readonly", (entries) => entries.getAll()))).catch(() => []);
  const all = async () => {
    const found = new Map((await stored()).map((one) => [one.key, one]));
    memory.forEach((one) => found.set(one.key, one));
    const mine = [...found.values()].filter((one) => one.by === by).sort((a, b) => a.order - b.order);
    mine.forEach((one) => { newest = Math.max(newest, one.order); });
    const over = (one) => one.until && one.until < Date.now();
    mine.filter(over).forEach(remove);
    return mine.filter((one) => !over(one));
  };

  /* Who is signed in by now, by this page as it is now: {token} where it is still the same person. */
  async function signedIn() {
    const answer = await fetch(home || location.href, { credentials: "same-origin" });
    if (answer.redirected) return { how: "signed-out", to: answer.url };
    const text = await answer.text(), person = personIn(text);
    if (!answer.ok || !person) return { how: "trouble", status: answer.ok ? 403 : answer.status };
    return person === by ? { token: tokenIn(text) } : { how: "another" };
  }

  /* A page is ours when it says who is signed in, JSON when it has a sentence. */
  async function refusal(answer) {
    const { status } = answer;
    const text = await answer.text();
    const json = answer.headers.get("Content-Type")?.includes("json");
    const sentence = json ? JSON.parse(text).sentence : "";
    const ours = json ? sentence : personIn(text) === by;
    return ours ? { how: "refused", status, sentence, page: text } : { how: "trouble", status };
  }

  /* Sends a letter once and says what became of it. */
  async function post(address, body, sender) {
    const once = () => fetch(address, {
      method: "POST", redirect: "manual", credentials: "same-origin", body: body(),
      headers: { "X-Sent-By": sender, "X-CSRFToken": proof.value },
    });
    let answer = await once();
    if (answer.type === "opaqueredirect" || answer.status === 403) {
      const now = await signedIn();
      if (!now.token) return now;
      proof.value = now.token;
      answer = await once();
    }
    if (answer.status === 201) return { how: "sent", told: await answer.json() };
    return answer.status === 409 || answer.status === 422 ? refusal(answer) : { how: "trouble", status: answer.status };
  }

  /* What is about a horn that had no number yet is sent to that horn, now that the answer says which it is. */
  async function named({ key, makes }, { to }) {
    const horn = makes && /\/horns\/\d+\//.exec(to)?.[0];
    if (!horn) return;
    for (const { after, ...one } of (await all()).filter((other) => other.after === key)) {
      await put({ ...one, path: one.path.replace(`/horns/${makes.id}/`, horn), about: Number(/\d+/.exec(horn)[0]) });
    }
  }

  /* A row of entries, those that are `mine`, sent in their order with one letter on its way at a time.
   *
   * body(batch) is the letter, to(batch) its address; it takes `most` entries. The `sender` "kept" is answered in JSON with a
   * sentence, "outbox" with the page where something must be put right.
   * watch() says after how many ms the site is asked although nothing waits, or 0. The page is told: changed(entries) of all
   * there are, sending(batch), sent(batch, told) with the site's answer, refused(entry, page), stuck(told) with what to
   * `tell`, and rest(left) once nothing more can be done now. When sent() fails, the letter does not count as sent. */
  function queue({ mine, to = ([one]) => one.path, body, most = 1, sender = "outbox", watch = () => 0, on }) {
    let busy = false, again = false, anew = false, timer = 0, failed = 0, together = most;
    const entries = async () => (await all()).filter(mine);
    const waiting = async () => (await entries()).filter((one) => one.state === "waiting" && !one.after);
    const changed = async () => on.changed?.(await entries());

    const deliver = async (batch) => {
      const became = await post(to(batch), () => body(batch), sender);
      if (became.how === "sent") for (const one of batch) await named(one, became.told);
      if (became.how === "sent") await on.sent(batch, became.told);
      return became;
    };
    const refuse = (one, sentence) => put({ ...one, state: "refused", sentence, until: 0 });

    /* One letter. True when another may follow at once. */
    async function letter() {
      const batch = (await waiting()).slice(0, together);
      if (!batch.length && !watch()) return false;
      on.sending?.(batch);
      const became = await deliver(batch).catch(() => ({ how: "no-connection" }));
      const [alone] = batch.length === 1 ? batch : [];
      if (became.how === "sent") {
        const refused = became.told.refused || {};
        for (const one of batch) await (one.key in refused ? refuse(one, refused[one.key]) : remove(one));
        together = most;
      } else if (became.how === "refused" && alone) {
        await refuse(alone, became.sentence);
        await on.refused?.(alone, became.page);
      } else {
        failed += 1;
        // One that the site stumbles over must not hold up the others: from now on they go one by one, that one last.
        if (became.status && alone) await put({ ...alone, order: next() });
        if (became.how !== "no-connection") together = 1;
        on.stuck?.(became);
        return false;
      }
      failed = 0;
      await changed();
      return batch.length > 0;
    }

    async function send() {
      if (busy) { again = true; return; }
      [busy, again, anew] = [true, false, false];
      clearTimeout(timer);
      while (await letter());
      const left = (await waiting()).length;
      busy = false;
      if (anew || (again && !failed)) { send(); return; }
      on.rest?.(left);
      const wait = left && failed ? Math.min(LONGEST_WAIT, FIRST_WAIT * 2 ** (failed - 1)) : watch();
      if (left || wait) timer = setTimeout(send, wait);
    }

    const add = (entry) => put(entry).then(changed).then(send);
    const drop = async (...some) => {
      for (const one of some.length ? some : await entries()) await discard(one);
      await changed();
    };

    // The connection is back, or somebody looks: a letter that is lost in this moment goes once more, and waits begin short.
    const afresh = () => {
      [failed, anew] = [0, busy];
      send();
    };
    self.addEventListener("online", afresh);
    self.document?.addEventListener("visibilitychange", () => { if (!document.hidden) afresh(); });
    const once = async () => { while (await letter()); };
    return { add, drop, entries, once, send };
  }

  /* The letter of one form: what was typed, and how old it is. */
  const formLetter = ([entry]) => {
    const body = new FormData();
    // By this device's own clock: right even where that clock is wrong.
    body.append("age", Math.round(waited(entry)));
    for (const [name, value] of entry.fields) body.append(name, value);
    // The last field: what is cut off half-way lacks it, and is not taken.
    body.append("whole", "1");
    return body;
  };
  /* What a queue of forms is that tells by itself what became of them: the kept page, Today's list and the worker. */
  const formsOf = (ours) => ({ mine: (one) => one.kind === "form" && ours(one), body: formLetter, sender: "kept" });
  /* What a queue of a count's taps is, whichever page makes or sends them. */
  const isTap = (one) => one.kind === "tap";
  const tapsOf = (path, to = path) => ({
    mine: (one) => isTap(one) && one.path === path,
    to: () => to,
    body: (taps) => JSON.stringify({ taps: taps.map((tap) => {
      const { key, horn, number, note, place } = tap;
      return { key, horn, number, note, place, waited: waited(tap) };
    }) }),
    most: 50,
  });

  const make = (tag, how, ...inside) => {
    const made = Object.assign(document.createElement(tag), how);
    made.append(...inside);
    return made;
  };
  const field = (words, input, ...more) =>
    make("div", { className: "field" }, make("label", { htmlFor: input.id }, words), input, ...more);
  const button = (words, onclick) => make("button", { type: "button", className: "quiet-button", onclick }, words);
  /* A button that throws away once it is pressed a second time. */
  const throwAway = (drop) => {
    const [first, second] = [_s("Throw away"), _s("Throw it away for good")];
    const pressed = button(first, () => { if (pressed.textContent === first) pressed.textContent = second; else drop(); });
    return pressed;
  };
  /* Words in a place that is announced, and what is offered after them. */
  function say(place, words, ...offered) {
    place.replaceChildren(words, ...offered.flatMap((one) => [" ", one]));
    place.hidden = !words;
  }

  /* Why something is not sent yet, in the same words everywhere; a page may say before what it is about. */
  function tell(place, { how, to, status }, before = "") {
    const why = () => {
      if (how === "signed-out") return _s("You were signed out.");
      if (how === "another") return _s("Somebody else is signed in on this device: it is sent once you sign in again.");
      if (how === "no-connection") return _s("No connection: it is sent as soon as there is one.");
      if (status < 400) return _s("Something else answered in the site’s place, as a guest network does that wants a sign-in of its own. It is tried again.");
      return _s("The site could not take it (%(status)s). It is tried again.", { status });
    };
    const kept = memory.size ? _s("Until then it is kept only while this page is open.") : _s("Until then it is kept in this browser.");
    const ways = how === "signed-out" ? [make("a", { href: to }, _s("Sign in to send it"))] : [];
    say(place, [before, why(), kept].filter(Boolean).join(" "), ...ways);
  }

  const as = (person, page) => { [by, home] = [person, page]; };

  /* Whether this browser refused to keep something: no room is left, or it keeps nothing at all. */
  const onlyHere = () => memory.size > 0;

  return { DRAFT_DAYS, all, as, by, button, discard, field, formLetter, formsOf, isTap, make, newId, onlyHere, page, put, queue, remove, say, tapsOf, tell, throwAway, waited };
})();
