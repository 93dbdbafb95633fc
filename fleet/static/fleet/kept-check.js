/* A condition check is kept in the browser while it is typed, and sent when there is a connection: never lost, never twice.
 *
 * <form data-kept data-by="user" data-it="check" data-name="Check of HN-0004" data-seen="17"> is a check, or a return with
 * its check. What is typed lies in the browser's own database, pictures too, under the person, the page's address and the
 * id the check carries, so that two people may share a tablet and two pages may be open about one horn. The id is made
 * here: however often the check is sent, the server keeps it once. <form data-kept-tap> beside it is saved by one tap in
 * the same way. [data-kept-list] on another page sends what waits and names the rest. Without script, or without that
 * database, the forms work as any others.
 */
(() => {
  "use strict";
  const KEPT_DAYS = 14;
  const AGAIN_MS = 15000;
  const LONGEST_SIDE = 1600;
  const LARGE_BYTES = 1000000;
  const NOT_KEPT = new Set(["csrfmiddlewaretoken", "age", "whole"]);
  const form = document.querySelector("form[data-kept]");
  const list = document.querySelector("[data-kept-list]");
  if (!window.indexedDB || !(form || list)) return;

  const work = (mode, task) => new Promise((done, failed) => {
    const opening = indexedDB.open("horn-cupboard", 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("checks", { keyPath: "key" });
    opening.onerror = () => failed(opening.error);
    opening.onsuccess = () => {
      const change = opening.result.transaction("checks", mode);
      const asked = task(change.objectStore("checks"));
      change.oncomplete = () => { opening.result.close(); done(asked.result); };
      change.onabort = change.onerror = () => { opening.result.close(); failed(change.error); };
    };
  });
  const remove = (record) => work("readwrite", (checks) => checks.delete(record.key)).catch(() => {});
  const all = () => work("readonly", (checks) => checks.getAll());
  /* A page that was left while it wrote can make the next page's first reading fail. */
  const listed = (tries = 4) => all().catch(async (trouble) => {
    if (tries === 1) throw trouble;
    await new Promise((done) => { setTimeout(done, 500); });
    return listed(tries - 1);
  });
  const clock = (at) => new Date(at).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  const isOld = (record) => !record.waiting && Date.now() - record.at > KEPT_DAYS * 86400000;

  /* crypto.randomUUID is missing where a school serves the site without TLS. */
  const newId = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
  };

  const post = (record, token) => {
    const body = new FormData();
    body.append("csrfmiddlewaretoken", token);
    // How long ago by this device's own clock: right even where that clock is wrong.
    body.append("age", Math.max(0, Math.round((Date.now() - record.at) / 1000)));
    for (const [name, value] of [...record.fields, ...record.files]) body.append(name, value);
    // The last field: what is cut off half-way lacks it, and is not taken.
    body.append("whole", "1");
    return fetch(record.path, { method: "POST", body, headers: { "X-Sent-By": "kept-check" }, credentials: "same-origin" });
  };

  /* The token of the page as it is now: a page that lay open for hours, or since before a sign-in, holds an old one. */
  const renewed = async (record) => {
    const answer = await fetch(record.path, { credentials: "same-origin" });
    if (answer.redirected) return { how: "signed-out", to: answer.url };
    const person = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("[data-person]");
    if (!answer.ok || !person) return { how: "trouble", status: answer.ok ? 403 : answer.status };
    if (person.dataset.person !== record.by) return { how: "another" };
    return { token: person.querySelector("[name=csrfmiddlewaretoken]").value };
  };

  /* Sends a check once more and says what became of it. Only our own "kept" counts as sent: a page that something between
   * here and the site put in its place, a sign-in page or an error never does. */
  async function deliver(record, token) {
    try {
      let answer = await post(record, token);
      if (answer.status === 403 && !answer.redirected) {
        const now = await renewed(record);
        if (!now.token) return now;
        answer = await post(record, now.token);
      }
      if (answer.redirected) return { how: "signed-out", to: answer.url };
      if (answer.status === 201) return { how: "sent", to: (await answer.json()).to };
      if (answer.status === 409 || answer.status === 422) return { how: "put-right", page: await answer.text() };
      return { how: "trouble", status: answer.status };
    } catch {
      return { how: "no-connection" };
    }
  }

  if (list) {
    const row = (record) => {
      const item = document.createElement("li");
      const link = Object.assign(document.createElement("a"), { href: record.path, textContent: record.name });
      const why = Object.assign(document.createElement("span"), { className: "why" });
      const when = Object.assign(document.createElement("span"), { className: "when" });
      when.textContent = `${new Date(record.at).toLocaleDateString("en-GB", { day: "numeric", month: "short" })}, ${clock(record.at)}`;
      item.append(link, " ", why, " ", when);
      list.querySelector("ul").append(item);
      return { item, link, why };
    };
    const throwAway = (record, { item, why }) => {
      const button = Object.assign(document.createElement("button"), { type: "button", className: "quiet-button" });
      button.textContent = "Throw away";
      button.addEventListener("click", () => {
        if (!button.dataset.asked) { button.dataset.asked = "1"; button.textContent = "Throw it away for good"; return; }
        remove(record).then(() => { item.remove(); list.hidden = !list.querySelector("li"); });
      });
      why.append(" ", button);
    };
    const show = async () => {
      const mine = (await listed()).filter((one) => one.by === list.dataset.by && one.path.startsWith(list.dataset.under));
      mine.filter(isOld).forEach(remove);
      const rows = mine.filter((one) => !isOld(one)).map((record) => ({ record, shown: row(record) }));
      list.hidden = rows.length === 0;
      for (const { record, shown } of rows) {
        if (!record.waiting) { shown.why.textContent = "begun, not saved yet"; throwAway(record, shown); continue; }
        shown.why.textContent = "being sent";
        const told = await deliver(record, list.querySelector("[name=csrfmiddlewaretoken]").value);
        if (told.how === "sent") {
          await remove(record);
          shown.link.href = told.to;
          shown.why.textContent = "sent";
        } else if (told.how === "put-right") {
          record.waiting = false;
          await work("readwrite", (checks) => checks.put(record));
          shown.why.textContent = "something must be put right: open it";
          throwAway(record, shown);
        } else shown.why.textContent = "saved without a connection: open it to send it";
      }
    };
    show().catch(() => {});
    return;
  }

  const it = form.dataset.it;
  const note = form.querySelector("[data-kept-note]");
  const button = form.querySelector("button.main");
  const here = `The ${it} is kept in this browser`;
  let at = Date.now();
  let waiting = null; // what was saved and is not sent yet: the form itself, or the one tap beside it
  let sending = false;
  let stored = false;
  let ready = false; // once what was kept before has been looked up
  let touched = false;
  let meanwhile = false; // something was typed while the check was on its way
  let later = 0;
  let last = Promise.resolve();

  const say = (words, action) => {
    note.replaceChildren(words);
    if (action) {
      const offered = document.createElement(action.href ? "a" : "button");
      if (action.href) offered.href = action.href;
      else { offered.type = "button"; offered.className = "quiet-button"; offered.addEventListener("click", action.run); }
      offered.textContent = action.words;
      note.append(" ", offered);
    }
    note.hidden = !words;
  };

  const snapshot = (of, pressed) => {
    const fields = [];
    const files = [];
    for (const [name, value] of new FormData(of)) {
      if (NOT_KEPT.has(name)) continue;
      if (value instanceof File) { if (value.size) files.push([name, value]); } else fields.push([name, value]);
    }
    if (pressed) fields.push(pressed);
    const { by, name, seen } = form.dataset;
    const key = `${by} ${location.pathname} ${of.elements.sent_as.value}`;
    return { key, by, path: location.pathname, name, seen, at, waiting: waiting !== null, tap: of !== form, fields, files };
  };
  const put = (record) => work("readwrite", (checks) => checks.put(record)).then(() => { stored = true; }, () => { stored = false; });
  const keep = () => {
    last = last.then(() => put(snapshot(form)));
    return last;
  };
  const typed = () => {
    at = Date.now();
    touched = true;
    if (sending) meanwhile = true;
    else if (ready) keep();
  };

  const restore = (record) => {
    const values = new Map();
    for (const [name, value] of record.fields) values.set(name, [...(values.get(name) || []), value]);
    for (const field of [...form.elements]) {
      const had = values.get(field.name) || [];
      if (!field.name || NOT_KEPT.has(field.name) || field.type === "file") continue;
      if (field.type === "checkbox" || field.type === "radio") field.checked = had.includes(field.value);
      else if (had.length) field.value = had[0];
    }
    for (const signed of values.get("kept") || []) {
      const field = document.createElement("input");
      Object.assign(field, { type: "hidden", name: "kept", value: signed });
      form.append(field);
    }
    for (const [name, file] of record.files) {
      const carrier = new DataTransfer();
      carrier.items.add(file);
      form.elements[name].files = carrier.files;
      form.elements[name].closest("details").open = true;
    }
    const parts = form.querySelector("[hx-post]");
    if (parts && navigator.onLine) parts.dispatchEvent(new Event("change", { bubbles: false }));
  };

  const putOff = (words) => {
    say(stored ? words : `${words} This browser keeps nothing: leave this page open.`);
    clearTimeout(later);
    later = setTimeout(send, AGAIN_MS);
  };

  /* Something must be put right: the server's page holds what was typed and says what. */
  const putRight = async (record, page) => {
    waiting = null;
    await put({ ...record, waiting: false });
    document.open();
    document.write(page);
    document.close();
    // What is wrong stands at the top; whoever pressed the button was at the foot.
    window.scrollTo(0, 0);
    document.getElementById("main")?.focus({ preventScroll: true });
    const id = document.querySelector("form[data-kept] [name=sent_as]")?.value;
    if (record.tap) await remove(record);
    else if (id && !record.key.endsWith(id)) {
      // The page has a new id for what is saved next: what is kept moves there, and only then leaves its old place.
      const fields = record.fields.map(([name, value]) => [name, name === "sent_as" ? id : value]);
      await put({ ...record, waiting: false, fields, key: `${record.by} ${record.path} ${id}` });
      await remove(record);
    }
  };

  async function send() {
    if (!waiting || sending) return;
    sending = true;
    meanwhile = false;
    button.disabled = true;
    clearTimeout(later);
    await opened;
    await last;
    const record = waiting === form ? snapshot(form) : waiting;
    await put(record);
    const told = await deliver(record, form.elements.csrfmiddlewaretoken.value);
    if (told.how === "sent") {
      waiting = null;
      await remove(record);
      location.assign(told.to);
      return; // still "sending": nothing more is taken from this page
    }
    sending = false;
    button.disabled = false;
    if (waiting === form && meanwhile) keep();
    if (told.how === "put-right") await putRight(record, told.page);
    else if (told.how === "signed-out") say(`You were signed out. ${here}.`, { words: "Sign in to send it", href: told.to });
    else if (told.how === "another") say(`Somebody else is signed in on this device. ${here} until you sign in again.`);
    else if (told.how === "trouble") putOff(`The site could not take it (${told.status}). ${here} and is tried again.`);
    else putOff(`No connection. ${here} and is sent by itself when the connection returns.`);
  }

  form.addEventListener("input", typed);
  form.addEventListener("change", typed);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (sending) return;
    waiting = form;
    at = Date.now();
    send();
  });
  document.querySelector("form[data-kept-tap]")?.addEventListener("submit", (event) => {
    event.preventDefault();
    if (sending) return;
    at = Date.now();
    waiting = event.target;
    waiting = snapshot(event.target, [event.submitter.name, event.submitter.value]);
    send();
  });
  // A phone's picture is many times what a page shows: made small here it travels fast, and without the place it was
  // taken at. What this browser cannot read goes as it is; the server draws every picture anew in any case.
  form.addEventListener("change", (event) => {
    const field = event.target;
    if (field.type !== "file" || !field.files.length || !window.createImageBitmap) return;
    const file = field.files[0];
    last = last.then(() => smaller(file)).then((small) => {
      if (!small || field.files[0] !== file) return;
      const carrier = new DataTransfer();
      carrier.items.add(small);
      field.files = carrier.files;
    }).catch(() => {});
    keep();
  });
  async function smaller(file) {
    if (file.size < LARGE_BYTES) return null;
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    const leaf = canvas.getContext("2d");
    leaf.fillStyle = "white";
    leaf.fillRect(0, 0, canvas.width, canvas.height);
    leaf.drawImage(picture, 0, 0, canvas.width, canvas.height);
    picture.close();
    const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
    return blob && blob.size < file.size ? new File([blob], file.name.replace(/\.\w+$/, "") + ".jpg", { type: "image/jpeg" }) : null;
  }
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  // Back to a page from before it was sent: begin from what the server knows and from what is kept.
  window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });

  const opened = listed().then((kept) => {
    ready = true;
    if (form.dataset.bound) { keep(); return; }
    const mine = kept.filter((one) => one.by === form.dataset.by && one.path === location.pathname);
    mine.filter(isOld).forEach(remove);
    // What was saved goes first, in its order; of what was only begun, the newest.
    const [record] = mine.filter((one) => !isOld(one)).sort((a, b) => b.waiting - a.waiting || (a.waiting ? a.at - b.at : b.at - a.at));
    form.elements.sent_as.value = newId();
    if (!record) { if (touched) keep(); return; }
    at = record.at;
    stored = true;
    if (record.waiting && record.tap) { waiting = record; send(); return; }
    restore(record);
    if (record.waiting) { waiting = form; send(); return; }
    const since = record.seen === form.dataset.seen ? "" : " Somebody has checked this horn since: look again before you save.";
    const afresh = () => remove(record).then(() => location.assign(location.href));
    say(`What you typed at ${clock(record.at)} is back.${since}`, { words: "Start afresh", run: afresh });
  }).catch(() => { ready = true; });
})();
