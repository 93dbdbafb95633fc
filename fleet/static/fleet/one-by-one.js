// Numbers from a scanner that types, one after another. The page is never left while they come in: each goes to the outbox
// at once, the field is free for the next, and all are sent in their order. Without this file the forms do it all.
"use strict";
(() => {
  // As long as the site keeps a row of returns itself.
  const KEPT_MS = 3 * 3600000;
  const said = document.getElementById("said");
  const say = (words) => outbox.say(said, words);

  // A row of returns: form and list are two forms.
  function row(form) {
    const field = form.elements.numbers, notes = document.querySelector(".messages"), path = location.pathname;
    let left = 0, then = "";
    const onTheWay = () => _s_many("%(count)s number is on its way.", "%(count)s numbers are on their way.", left);

    const line = outbox.queue({
      mine: (one) => one.kind === "number" && one.path === path,
      body: (batch) => new URLSearchParams({ do: "add", numbers: batch.map((one) => one.number).join("\n") }),
      most: 50,
      on: {
        changed: (all) => { left = all.filter((one) => one.state === "waiting").length; say(left ? onTheWay() : ""); },
        sent: async (_, { to }) => show(await outbox.page(to)),
        stuck: (became) => outbox.tell(said, became, _s_many("%(count)s number is not sent yet.", "%(count)s numbers are not sent yet.", left)),
        rest: (waiting) => { left = waiting; goOn(!waiting); },
      },
    });

    function show(answer) {
      const list = answer.getElementById("listed");
      if (!list) throw new Error("no list");
      document.getElementById("listed").replaceWith(document.adoptNode(list));
      // Good news makes way for newer; what could not be taken stays to be read.
      notes.querySelectorAll(".success").forEach((one) => one.remove());
      const there = new Set([...notes.children].map((one) => one.textContent));
      answer.querySelectorAll(".messages > *").forEach((one) => { if (!there.has(one.textContent)) notes.append(document.adoptNode(one)); });
    }

    // What was pressed while numbers were on their way. Horns are taken back only as the list shows them.
    function goOn(done) {
      const [pressed] = [then, (then = "")];
      if (!pressed || !done) return;
      if (pressed === "take") say(_s("The list has grown. Look at it, then press again."));
      else document.querySelector(`main button[name="do"][value="${CSS.escape(pressed)}"]`)?.click();
    }

    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const typed = field.value.split(",").map((one) => one.trim()).filter(Boolean);
      field.value = "";
      field.focus();
      for (const number of typed) { left += 1; line.add({ kind: "number", path, number, until: Date.now() + KEPT_MS }); }
    });
    document.querySelector("main").addEventListener("submit", async (event) => {
      if (event.target === form || !left) return;
      event.preventDefault();
      then = event.submitter ? event.submitter.value : "";
      if (then === "stop") await line.drop();
      else say(onTheWay());
      line.send();
    });
    line.send();
  }

  // A class, a line for each pupil: the next scan goes to the next empty line while the numbers so far are looked up.
  function pairs(form) {
    const lines = () => [...form.querySelectorAll("input[data-line]")];

    function next(from) {
      const all = lines(), at = all.indexOf(from);
      const free = [...all.slice(at + 1), ...all.slice(0, at + 1)].find((one) => !one.value.trim() && !("has" in one.dataset));
      if (free) free.focus();
      else { if (from) from.blur(); say(_s("Every pupil has a number. Press “Go on”.")); }
    }

    function take(answer, sent) {
      const anew = answer.getElementById("pairs");
      if (!anew) throw new Error("no class");
      document.getElementById("wrong").replaceWith(document.adoptNode(answer.getElementById("wrong")));
      lines().forEach((input) => {
        const other = anew.elements[input.name];
        // Typed meanwhile: this line is looked up the next time.
        if (!other || input.value !== sent.get(input.name)) return;
        const here = input.parentElement, there = other.parentElement;
        here.className = there.className;
        [...here.childNodes].forEach((one) => { if (one !== input) one.remove(); });
        [...there.childNodes].forEach((one) => { if (one !== other) here.insertBefore(document.adoptNode(one), input); });
        if (input.value !== other.value) input.value = other.value;
        ["aria-invalid", "aria-describedby"].forEach((name) => { if (other.hasAttribute(name)) input.setAttribute(name, other.getAttribute(name)); else input.removeAttribute(name); });
      });
    }

    const path = location.pathname, group = form.elements.class.value;
    const line = outbox.queue({
      mine: (one) => one.kind === "class" && one.path === path && one.group === group,
      // The newest holds what those before it held.
      to: (batch) => `${path}?${batch.at(-1).typed}`,
      body: () => "",
      most: 50,
      on: {
        sent: async (batch, { to }) => {
          take(await outbox.page(to), new URLSearchParams(batch.at(-1).typed));
          history.replaceState(null, "", to);
        },
        stuck: (became) => outbox.tell(said, became),
      },
    });

    form.addEventListener("submit", (event) => {
      if (event.submitter && event.submitter.name === "go") { line.drop(); return; }
      event.preventDefault();
      say("");
      const at = document.activeElement;
      if (lines().includes(at) && at.value.trim()) next(at);
      const typed = String(new URLSearchParams(new FormData(form)));
      line.add({ kind: "class", path, group, typed, until: Date.now() + KEPT_MS });
    });

    // What was typed and not looked up yet when the page was left; a scanner may be quicker than the browser's database.
    line.entries().then((all) => {
      for (const [name, value] of new URLSearchParams(all.at(-1)?.typed)) {
        const field = form.elements[name];
        if (field && field.value === field.defaultValue) field.value = value;
      }
      line.send();
    });
  }

  const typed = document.getElementById("one-by-one"), paired = document.getElementById("pairs");
  if (typed) row(typed);
  if (paired) pairs(paired);
})();
