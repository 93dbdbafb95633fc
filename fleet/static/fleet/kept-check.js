/* A condition check is kept in the browser while it is typed, and sent when there is a connection: never lost, never twice.
 *
 * <form data-kept data-by="user" data-name="HN-0004" data-seen="17"> is the check. What is typed lies in the browser's
 * own database, pictures too, under the person and the page's address, so that two people may share a tablet. The check
 * carries an id made here: however often it is sent, the server keeps it once. [data-kept-list] on another page names the
 * checks that were not sent yet. Without script, or without that database, the form works as any other.
 */
(() => {
  "use strict";
  const KEPT_DAYS = 14;
  const AGAIN_MS = 15000;
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
      change.onabort = change.onerror = () => failed(change.error);
    };
  });
  const clock = (at) => new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });

  /* crypto.randomUUID is missing where a school serves the site without TLS. */
  const newId = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
  };

  if (list) {
    work("readonly", (checks) => checks.getAll()).then((all) => {
      const mine = all.filter((one) => one.by === list.dataset.by && one.path.startsWith(list.dataset.under));
      for (const one of mine) {
        const item = document.createElement("li");
        const link = document.createElement("a");
        link.href = one.path;
        link.textContent = `Check of ${one.name}`;
        const why = document.createElement("span");
        why.className = "why";
        why.textContent = one.waiting ? "saved without a connection: open it to send it" : "begun, not saved yet";
        const when = document.createElement("span");
        when.className = "when";
        when.textContent = `${new Date(one.at).toLocaleDateString()} ${clock(one.at)}`;
        item.append(link, " ", why, " ", when);
        list.querySelector("ul").append(item);
      }
      list.hidden = mine.length === 0;
    }, () => {});
    return;
  }

  const key = `${form.dataset.by} ${location.pathname}`;
  const note = form.querySelector("[data-kept-note]");
  const button = form.querySelector("button.main");
  let waiting = false;
  let sending = false;
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

  const keep = () => {
    const fields = [];
    const files = [];
    for (const [name, value] of new FormData(form)) {
      if (name === "csrfmiddlewaretoken" || name === "age") continue;
      if (value instanceof File) { if (value.size) files.push([name, value]); } else fields.push([name, value]);
    }
    const record = {
      key, by: form.dataset.by, path: location.pathname, name: form.dataset.name, seen: form.dataset.seen,
      at: Date.now(), waiting, fields, files,
    };
    last = last.then(() => work("readwrite", (checks) => checks.put(record))).catch(() => {});
    return last;
  };
  const forget = () => last.then(() => work("readwrite", (checks) => checks.delete(key))).catch(() => {});

  const restore = (record) => {
    const values = new Map();
    for (const [name, value] of record.fields) values.set(name, [...(values.get(name) || []), value]);
    for (const field of [...form.elements]) {
      const had = values.get(field.name) || [];
      if (!field.name || field.name === "csrfmiddlewaretoken" || field.name === "age" || field.type === "file") continue;
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

  const putOff = () => {
    say("No connection. The check is kept in this browser and is sent by itself when the connection returns.");
    clearTimeout(later);
    later = setTimeout(send, AGAIN_MS);
  };

  async function send() {
    if (!waiting || sending) return;
    sending = true;
    button.disabled = true;
    clearTimeout(later);
    try {
      // How long ago by this device's own clock: right even where that clock is wrong.
      const record = await work("readonly", (checks) => checks.get(key)).catch(() => null);
      form.elements.age.value = record ? Math.max(0, Math.round((Date.now() - record.at) / 1000)) : 0;
      const answer = await fetch(location.pathname, {
        method: "POST", body: new FormData(form), headers: { "X-Sent-By": "kept-check" }, credentials: "same-origin",
      });
      if (answer.status === 201) {
        const to = (await answer.json()).to;
        waiting = false;
        await forget();
        location.assign(to);
        return;
      }
      if (answer.redirected) {
        say("You were signed out. The check is kept in this browser.", { words: "Sign in to send it", href: answer.url });
      } else if (answer.status === 403) {
        say("The page has grown old. The check is kept in this browser.", { words: "Open the page again to send it", href: location.pathname });
      } else if (answer.status >= 500) {
        putOff();
      } else {
        // Something must be put right: the server's page holds what was typed and says what.
        const page = await answer.text();
        waiting = false;
        await keep();
        document.open();
        document.write(page);
        document.close();
        return;
      }
    } catch {
      putOff();
    } finally {
      sending = false;
      button.disabled = false;
    }
  }

  form.addEventListener("input", () => { if (!sending) keep(); });
  form.addEventListener("change", () => { if (!sending) keep(); });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (sending) return;
    waiting = true;
    keep().then(send);
  });
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });

  const afresh = () => forget().then(() => location.assign(location.pathname));
  work("readonly", (checks) => checks.get(key)).then((record) => {
    if (form.dataset.bound) { keep(); return; }
    if (record && !record.waiting && Date.now() - record.at > KEPT_DAYS * 86400000) { forget(); record = undefined; }
    if (!record) { form.elements.sent_as.value = newId(); return; }
    restore(record);
    if (record.waiting) { waiting = true; send(); return; }
    const since = record.seen === form.dataset.seen ? "" : " Somebody has checked this horn since: look again before you save.";
    say(`What you typed at ${clock(record.at)} is back.${since}`, { words: "Start afresh", run: afresh });
  }, () => {});
})();
