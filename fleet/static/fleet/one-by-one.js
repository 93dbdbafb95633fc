// Numbers from a scanner that types, one after another. The page is never left while they come in: each is put aside at
// once, the field is free for the next, and all are sent in their order. Without this file the forms do it all.
"use strict";
(() => {
  const SOON = 4000;
  const said = document.getElementById("said");
  const say = (words) => { said.textContent = words; };
  const page = async (answer) => new DOMParser().parseFromString(await answer.text(), "text/html");

  // A row of returns: form and list are two forms, and what was typed waits in this tab until the site has it.
  function row(form) {
    const field = form.elements.numbers, store = form.dataset.store, notes = document.querySelector(".messages");
    let sending = false, timer = 0, atOnce = 50, then = "", memory = [];
    // Where the browser keeps nothing, the numbers wait on the page itself.
    const read = () => { try { return JSON.parse(sessionStorage.getItem(store)) || []; } catch { return memory; } };
    const write = (all) => {
      memory = all;
      try { if (all.length) sessionStorage.setItem(store, JSON.stringify(all)); else sessionStorage.removeItem(store); } catch { /* memory has them */ }
    };
    const numbers = (n) => (n === 1 ? "1 number" : `${n} numbers`);

    function show(answer) {
      const list = answer.getElementById("listed");
      if (!list) return false;
      document.getElementById("listed").replaceWith(document.adoptNode(list));
      form.elements.csrfmiddlewaretoken.value = answer.querySelector("form [name=csrfmiddlewaretoken]").value;
      // Good news makes way for newer; what could not be taken stays to be read.
      notes.querySelectorAll(".success").forEach((one) => one.remove());
      const there = new Set([...notes.children].map((one) => one.textContent));
      answer.querySelectorAll(".messages > *").forEach((one) => { if (!there.has(one.textContent)) notes.append(document.adoptNode(one)); });
      return true;
    }

    function signedOut() {
      const again = document.createElement("a");
      again.href = location.href;
      again.textContent = "Sign in again";
      said.replaceChildren("You are signed out. ", again, `: ${numbers(read().length)} kept in this tab ${read().length === 1 ? "is" : "are"} sent then.`);
    }

    async function send() {
      const batch = read().slice(0, atOnce);
      if (sending || !batch.length) return;
      sending = true;
      clearTimeout(timer);
      let again = false;
      say(`${numbers(read().length)} on the way`);
      try {
        const body = new URLSearchParams({ do: "add", numbers: batch.join("\n"), csrfmiddlewaretoken: form.elements.csrfmiddlewaretoken.value });
        const answer = await fetch(location.href, { method: "POST", body });
        if (answer.ok && show(await page(answer))) {
          write(read().slice(batch.length));
          atOnce = 50;
          again = true;
          say("");
        } else if (answer.ok || answer.status === 403) {
          signedOut();
        } else {
          say(`The site could not take them (${answer.status}). ${numbers(read().length)} kept here, tried again soon.`);
          // One that the site stumbles over must not hold up the others.
          if (batch.length === 1) write([...read().slice(1), batch[0]]);
          atOnce = 1;
          timer = setTimeout(send, SOON);
        }
      } catch {
        say(`No connection. ${numbers(read().length)} kept here, sent as soon as there is one.`);
        timer = setTimeout(send, SOON);
      }
      sending = false;
      if (again && read().length) send();
      else if (then) goOn(again);
    }

    // What was pressed while numbers were on their way. Horns are taken back only as the list shows them.
    function goOn(done) {
      const [pressed] = [then, (then = "")];
      if (pressed === "stop") write([]);
      else if (!done) return;
      else if (pressed === "take") { say("The list has grown. Look at it, then press again."); return; }
      const button = document.querySelector(`main button[name="do"][value="${CSS.escape(pressed)}"]`);
      if (button) button.click();
    }

    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const typed = field.value.split(",").map((one) => one.trim()).filter(Boolean);
      field.value = "";
      field.focus();
      if (!typed.length) return;
      write([...read(), ...typed]);
      if (sending) say(`${numbers(read().length)} on the way`);
      else send();
    });
    document.querySelector("main").addEventListener("submit", (event) => {
      if (event.target === form || !read().length) return;
      then = event.submitter ? event.submitter.value : "";
      if (then === "stop" && !sending) { write([]); return; }
      event.preventDefault();
      say(`One moment: ${numbers(read().length)} on the way.`);
      send();
    });
    window.addEventListener("online", send);
    send();
  }

  // A class, a line for each pupil: the next scan goes to the next empty line while the numbers so far are looked up.
  function pairs(form) {
    const lines = () => [...form.querySelectorAll("input[data-line]")];
    let looking = false, again = false;

    function next(from) {
      const all = lines(), at = all.indexOf(from);
      const free = [...all.slice(at + 1), ...all.slice(0, at + 1)].find((one) => !one.value.trim() && !("has" in one.dataset));
      if (free) free.focus();
      else { if (from) from.blur(); say("Every pupil has a number. Press “Go on”."); }
    }

    function take(answer, sent) {
      const anew = answer.getElementById("pairs");
      if (!anew) { say("You may be signed out. The numbers stay here; open the site in another tab and sign in, then press “Look up”."); return; }
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

    async function look() {
      if (looking) { again = true; return; }
      looking = true;
      do {
        again = false;
        const sent = new FormData(form), address = `${location.pathname}?${new URLSearchParams(sent)}`;
        try {
          const answer = await fetch(address);
          if (answer.ok) { take(await page(answer), sent); history.replaceState(null, "", address); }
          else say(`The site could not look them up (${answer.status}). The numbers stay here.`);
        } catch { say("No connection. The numbers stay here; press “Look up” when there is one."); }
      } while (again);
      looking = false;
    }

    form.addEventListener("submit", (event) => {
      if (event.submitter && event.submitter.name === "go") return;
      event.preventDefault();
      say("");
      const line = document.activeElement;
      if (lines().includes(line) && line.value.trim()) next(line);
      look();
    });
  }

  const typed = document.getElementById("one-by-one"), paired = document.getElementById("pairs");
  if (typed) row(typed);
  if (paired) pairs(paired);
})();
