/* The page that a phone keeps: the horns, the walk and the kinds, drawn from what lies beside it, and what is done meanwhile.
 *
 * It stands for whichever page of the school was asked for and could not be reached, so it reads from the address what that was.
 * A walk put on record is kept in the outbox and goes with everything else that waits there.
 */
"use strict";
(async () => {
  const main = document.querySelector("[data-offline]");
  const { offline: base, scales, kept: about } = main.dataset;
  const shown = document.querySelector("[data-shown]");
  const note = document.querySelector("[data-connection]");
  const { make } = outbox;
  const LISTED = 12;
  const FORMS = `${base}horns/identified/`;
  const paragraph = (words, className = "") => make("p", { className }, words);

  const part = async (address) => ((await window.caches?.match(address)) ?? await fetch(address)).json();
  const put = (...parts) => { shown.replaceChildren(...parts.filter(Boolean)); window.scrollTo(0, 0); };
  let kept, tables;
  try {
    [kept, tables] = await Promise.all([about, scales].map(part));
  } catch {
    put(make("h1", {}, "Nothing is kept on this device"), paragraph("With a connection, open Today and take the cupboard along."));
    return;
  }
  const reason = window.reasoner(tables);
  const when = (at) => new Date(at).toLocaleString("en-GB", { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });

  function go(address) {
    history.pushState(null, "", address);
    draw();
    main.focus({ preventScroll: true });
  }
  const link = (words, path, how = {}) => make("a", {
    href: base + path, ...how, onclick: (event) => { event.preventDefault(); go(base + path); },
  }, words);

  /* What waits, and what could not be taken. */
  const waiting = make("section", { hidden: true }, make("h2", {}, "Kept on this device"), make("ul", { className: "tasks" }));
  let taps = [];
  async function told(all) {
    const others = (await outbox.all()).filter((one) => one.path.startsWith(base));
    taps = others.filter(outbox.isTap);
    const back = others.filter((one) => one.kind === "number").map((one) => ({ ...one, name: `${one.number} came back`, sentence: "waits for the page that takes horns back" }));
    const why = { waiting: "waits for a connection", draft: "begun, not saved yet", refused: "could not be taken" };
    const refused = taps.filter((one) => one.state === "refused").map((one) => ({ ...one, name: `Counted: ${one.label}` }));
    const rows = [...all, ...back, ...refused];
    waiting.querySelector("ul").replaceChildren(...rows.map((one) => {
      const drop = outbox.throwAway(() => outbox.remove(one).then(line.entries).then(told));
      return make("li", {}, one.name, " ", make("span", { className: "why" }, one.sentence || why[one.state]),
        ...(one.state === "refused" ? [" ", drop] : []), " ", make("span", { className: "when" }, when(one.at)));
    }));
    waiting.hidden = !rows.length;
    connection([...all, ...back, ...taps].filter((one) => one.state === "waiting").length);
  }
  function connection(many = 0) {
    const acts = many ? `${many} ${many === 1 ? "act waits" : "acts wait"} to be sent.` : "";
    const go = make("a", { href: location.href }, "Go on there");
    outbox.say(note, [navigator.onLine ? "The site may be reached again." : "No connection.", acts].filter(Boolean).join(" "), ...(navigator.onLine ? [go] : []));
  }
  /* What a page of the site says is wrong: whoever did it in the cellar reads it here. */
  async function why(entry, page) {
    const said = new DOMParser().parseFromString(page, "text/html").querySelector(".errorlist li, .refusal p");
    if (said) await outbox.put({ ...entry, state: "refused", until: 0, sentence: said.textContent.trim().replace(/\s+/g, " ") });
  }
  const line = outbox.queue({
    mine: (one) => one.kind === "form" && one.path.startsWith(base),
    body: outbox.formLetter,
    on: { changed: told, sent: () => {}, stuck: () => { line.entries().then(told); }, refused: why },
  });

  const tapLines = new Map(kept.counts.map(({ send }) => [send, outbox.queue({
    ...outbox.tapsOf(send),
    on: { changed: () => line.entries().then(told), sent: () => {}, stuck: () => {} },
  })]));

  async function keepForm(path, name, fields, more = "") {
    const id = outbox.newId();
    await line.add({ key: `${outbox.by} ${path} ${id}`, kind: "form", path, name, fields: [["sent_as", id], ...fields] });
    done = `Kept on this device: ${name}${more}. It goes on record as soon as there is a connection.`;
    go(base);
  }

  async function cameBack({ number }) {
    const until = Date.now() + outbox.DRAFT_DAYS * 86400000;
    await outbox.put({ kind: "number", path: `${base}loans/back/`, number, until });
    await told(await line.entries());
    done = `Kept on this device: ${number} came back. With a connection, open Today and take it back.`;
    go(base);
  }

  /* The form that puts a walk on record: on a new horn, or on one that is registered. */
  function record(query, verdict, horn) {
    const kinds = make("select", { name: "kind", id: "kind" }, ...verdict.candidates.map((one) =>
      make("option", { value: `${one.code}|${one.stands_in ?? ""}` }, one.words)));
    const places = make("select", { name: "place", id: "place" }, make("option", { value: "" }, "no place yet"),
      ...kept.places.map((one) => make("option", { value: one.id }, one.name)));
    const number = make("input", { name: "horn_number", id: "horn_number", autocomplete: "off", maxLength: 24 });
    const wrong = make("p", { className: "wrong-answer", role: "alert", hidden: true });
    const field = (words, input) => make("div", { className: "field" }, make("label", { htmlFor: input.id }, words), input);
    const press = (words, main, act) => make("button", { type: "button", className: main ? "button main big" : "button", onclick: act }, words);
    const known = kept.horns.find((one) => String(one.id) === horn);
    const keep = (fields, name) =>
      keepForm(`${FORMS}?${query}`, name, [["kind", kinds.value], ...fields], `, ${kinds.selectedOptions[0].textContent}`);
    const asNew = () => keep([["act", "as-new"], ["number", kept.next_number], ["suggested", kept.next_number], ["place", places.value]], "a new horn");
    const onHorn = () => {
      const said = (known?.number ?? number.value).trim();
      const there = kept.horns.find((one) => one.number.toLowerCase() === said.toLowerCase());
      if (!there) { outbox.say(wrong, said ? `There is no horn ${said} among those kept here.` : "Say which horn."); number.focus(); return; }
      keep([["act", "on-horn"], ["horn_number", there.number]], there.number);
    };
    return make("section", { className: "form" }, make("h2", {}, "Put it on record"), field("It is a", kinds), ...(known
      ? [press(`Put it on horn ${known.number}`, true, onHorn)]
      : [field("Place", places), press("As a new horn", verdict.settled, asNew), paragraph("It gets its number from the register.", "quiet"),
        wrong, field("Or on the registered horn", number), press("On that horn", false, onHorn)]));
  }
  const walk = window.offlineWalk({
    reason, tables, shares: kept.shares, make, record, go: (query) => go(`${base}identify/${String(query) ? `?${query}` : ""}`),
  });

  /* Horns are found by number, kind or place, in any order of the words, and by the code of a label. */
  const plain = (words) => words.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();
  const texts = kept.horns.map((one) => plain([one.number, one.number.replace(/-?0*(?=\d)/g, ""), one.kind, one.place, one.label, one.where].join(" ")));
  const having = (words) => {
    const wanted = plain(words).split(/\s+/).filter(Boolean);
    return kept.horns.filter((_one, place) => wanted.every((word) => texts[place].includes(word)));
  };
  function list(words) {
    const box = make("input", { type: "search", id: "q", value: words, autocomplete: "off" });
    const found = make("ul", { className: "tasks" }), more = paragraph("", "quiet");
    const fill = () => {
      const all = having(box.value);
      found.replaceChildren(...all.slice(0, LISTED).map((one) => make("li", {}, link(`${one.number}, ${one.kind}`, `horns/${one.id}/`), " ",
        make("span", { className: "why" }, [one.place, one.where === "in its place" ? "" : one.where].filter(Boolean).join(" · ")))));
      more.textContent = all.length > LISTED ? `and ${all.length - LISTED} more` : all.length ? "" : "No such horn is kept here.";
    };
    box.oninput = fill;
    fill();
    const scan = make("button", { type: "button", hidden: true }, "Scan with the camera"), video = make("video", { muted: true, playsInline: true, hidden: true });
    const said = paragraph("", "quiet");
    window.scanner(scan, video, {
      read: (code) => {
        const horn = kept.horns.find(({ label }) => code.toUpperCase().replace(/\/$/, "").endsWith(`/${label}`));
        if (horn) go(`${base}horns/${horn.id}/`); else said.textContent = "This label belongs to no horn that is kept here.";
      },
      say: (words) => { said.textContent = words; },
    });
    return make("section", {}, make("h2", {}, "Horns"), make("div", { className: "field" },
      make("label", { htmlFor: "q" }, "Number, kind or place"), box), scan, video, said, found, more);
  }
  const one = window.offlineHorn({ finishes: kept.finishes, make, link, cameBack: kept.takes_back && cameBack, keep: (path, name, fields) => keepForm(base + path, name, fields) });
  const counted = window.offlineCount({ counts: kept.counts, horns: kept.horns, make, link, keep: (tap) => tapLines.get(tap.path).add(tap) });
  const kinds = () => [make("h1", {}, "Kinds of horn"), document.getElementById("kinds").content.cloneNode(true)];

  let done = "";
  function home(missing) {
    const days = Math.floor((Date.now() - Date.parse(kept.made)) / 86400000);
    return [make("h1", {}, "Without a connection"), done && make("p", { className: "box good", role: "status" }, done),
      missing && paragraph("The page you asked for needs a connection. This is what is kept here."),
      make("p", { className: "buttons" }, link("Identify a horn", "identify/", { className: "button main big" }), " ", link("Kinds of horn", "guide/", { className: "button" })),
      waiting, ...kept.counts.map((one) => make("p", {}, link(one.title, `counts/${one.id}/`))), list(new URLSearchParams(location.search).get("q") ?? ""),
      paragraph(`As it was on ${when(kept.made)}${days > 1 ? `, ${days} days ago` : ""}. Who has a horn is not kept here.`, "quiet")];
  }
  function draw() {
    const path = location.pathname.startsWith(base) ? location.pathname.slice(base.length) : "";
    const key = /^horns\/(\d+)\/$/.exec(path)?.[1];
    const horn = key && kept.horns.find(({ id }) => String(id) === key);
    const [, count] = /^counts\/(\d+)\/(?:shelf\/)?$/.exec(path) ?? [];
    const counting = count && counted(count, new URLSearchParams(location.search), taps);
    if (counting) put(...counting);
    else if (path === "identify/") put(walk(new URLSearchParams(location.search)));
    else if (horn) put(...one(horn));
    else if (path.startsWith("guide/")) put(...kinds());
    else put(...home(!["", "horns/", "along/", "along/cupboard/"].includes(path)));
    done = "";
    document.title = `${shown.querySelector("h1")?.textContent ?? "Horn Cupboard"} · without a connection`;
  }
  document.querySelector("[data-home]").onclick = (event) => { event.preventDefault(); go(base); };
  window.addEventListener("popstate", draw);
  for (const change of ["online", "offline"]) window.addEventListener(change, () => line.entries().then(told));
  await told(await line.entries());
  draw();
  line.send();
  tapLines.forEach((one) => one.send());
})();
