/* What was typed and sent while nobody was signed in any more is not lost: it comes back after signing in.
 *
 * A form that is sent is remembered in this tab, with the person and its page, until a page of the site has answered them. A
 * sign-in page, an old token or no answer at all is none: then its fields are filled again on its page, for the same person
 * only, and sent by nobody but them. Files and secrets are never remembered. Forms of the outbox keep themselves. Who asks for the
 * page in another language finds there what they were at.
 */
"use strict";
(() => {
  const PLACE = "typed";
  const LONGEST_MS = 12 * 3600000;
  const by = document.querySelector("[data-person]")?.dataset.person;
  const here = location.pathname + location.search;
  const seen = ({ type }) => !["hidden", "submit", "button", "file"].includes(type);

  const read = () => { try { return JSON.parse(sessionStorage.getItem(PLACE)); } catch { return null; } };
  const drop = () => sessionStorage.removeItem(PLACE);
  const write = (kept) => { try { sessionStorage.setItem(PLACE, JSON.stringify(kept)); } catch { /* it is then as it was before */ } };
  const isNamed = (field) => field.name && seen(field);

  function keep(form, more) {
    if (!by || form.method !== "post" || form.matches("[data-kept]")) return;
    if (form.querySelector("[type=password], [autocomplete=one-time-code]") || ![...form.elements].some(isNamed)) return;
    const fields = [...new FormData(form)].filter(([name, value]) => name !== "csrfmiddlewaretoken" && typeof value === "string");
    write({ by, page: here, action: form.action, fields, at: Date.now(), ...more });
  }

  function say(words, ...more) {
    const said = Object.assign(document.createElement("p"), { className: "message warning", textContent: words });
    document.querySelector(".messages").append(said, ...more);
  }

  const filledFrom = (kept) => [...document.forms].find((form) => {
    const names = new Set([...form.elements].map((field) => field.name));
    return form.action === kept.action && kept.fields.every(([name]) => names.has(name));
  });

  function fill(form, fields) {
    const left = new Map();
    for (const [name, value] of fields) left.set(name, [...(left.get(name) || []), value]);
    for (const field of [...form.elements].filter(isNamed)) {
      const values = left.get(field.name) || [];
      if (field.type === "checkbox" || field.type === "radio") field.checked = values.includes(field.value);
      else if (field.type === "select-multiple") for (const one of field.options) one.selected = values.includes(one.value);
      else if (values.length) field.value = values.shift();
      else continue;
      const fold = field.closest("details");
      if (fold && field.value && field.value !== field.defaultValue) fold.open = true;
    }
    form.dispatchEvent(new Event("change", { bubbles: true }));
  }

  function back(kept) {
    drop();
    const form = filledFrom(kept);
    if (form) {
      fill(form, kept.fields);
      if (!kept.translated) say(_("What you typed is back and was not sent yet. Look it over and send it again."));
      return;
    }
    const list = document.createElement("ul");
    list.append(...kept.fields.filter(([, value]) => value.includes(" ")).map(([, value]) => Object.assign(document.createElement("li"), { textContent: value })));
    say(_("What you typed was not sent, and its form is gone."), list);
  }

  function begin() {
    const kept = read();
    if (!kept) return;
    const [{ type }] = performance.getEntriesByType("navigation");
    const old = Date.now() - kept.at > LONGEST_MS;
    // The answer to a form comes from its page; who types the address anew, or opens it elsewhere, comes from none.
    const unanswered = kept.out || (kept.page === here && (type !== "navigate" || !document.referrer));
    if (old || (by && by !== kept.by)) drop();
    else if (!by || document.querySelector("[data-not-taken]")) {
      write({ ...kept, out: true });
      if (by) location.replace(kept.page);
    } else if (!unanswered) drop();
    else if (kept.page === here || kept.led) back(kept);
    else { write({ ...kept, led: true }); location.replace(kept.page); }
  }

  let touched = document.querySelector("form:has([aria-invalid])");
  window.addEventListener("change", ({ target }) => { touched = target.closest("form"); });
  // At the window, last of all: who sends in another way has said so by then.
  window.addEventListener("submit", ({ defaultPrevented, target }) => {
    if (defaultPrevented) return;
    if (!target.matches(".languages")) keep(target);
    else if (touched) keep(touched, { out: true, translated: true });
  });
  document.addEventListener("htmx:beforeRequest", ({ detail }) => {
    const form = detail.elt.closest("form");
    if (form && detail.requestConfig.verb === "post") keep(form);
  });
  document.addEventListener("htmx:afterRequest", ({ detail }) => {
    if (detail.xhr?.status && !detail.xhr.getResponseHeader("HX-Redirect")) drop();
  });
  // What the page told of the form is not so any more, and nobody could be asked.
  document.addEventListener("htmx:sendError", ({ detail }) => {
    const { unasked } = detail.elt.dataset;
    if (unasked) detail.target.textContent = unasked;
  });
  begin();
})();
