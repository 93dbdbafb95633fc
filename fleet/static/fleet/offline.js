/* The page that a phone keeps: the horns, the walk and the kinds, drawn from what lies beside it, and what is done meanwhile.
 *
 * It stands for whichever page of the school was asked for and could not be reached, so it reads from the address what that was.
 * Whatever is done waits in the outbox and shows at once in what this page says of a horn (offline-horns.js).
 */
"use strict";
(async () => {
  const main = document.querySelector("[data-offline]");
  const { offline: base, scales, kept: about } = main.dataset;
  const shown = document.querySelector("[data-shown]");
  const note = document.querySelector("[data-connection]");
  const { make } = outbox;
  const LISTED = 12;
  const paragraph = (words, className = "") => make("p", { className }, words);

  const part = async (address) => ((await window.caches?.match(address)) ?? await fetch(address)).json();
  const put = (...parts) => { shown.replaceChildren(...parts.filter(Boolean)); window.scrollTo(0, 0); };
  let kept, tables;
  try {
    [kept, tables] = await Promise.all([about, scales].map(part));
  } catch {
    put(make("h1", {}, _s("Nothing is kept on this device")), paragraph(_s("With a connection, open Today and take the cupboard along.")));
    return;
  }
  const reason = window.reasoner(tables);
  // Who has to sign in again comes to Today, which sends all that waits.
  outbox.as(outbox.by, base);
  const when = (at) => new Date(at).toLocaleString(spoken, { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });

  function go(address) {
    history.pushState(null, "", address);
    draw();
    main.focus({ preventScroll: true });
  }
  const link = (words, path, how = {}) => make("a", {
    href: base + path, ...how, onclick: (event) => { event.preventDefault(); go(base + path); },
  }, words);

  /* What waits, and what could not be taken. */
  const waiting = make("section", { hidden: true }, make("h2", {}, _s("Kept on this device")), make("ul", { className: "tasks" }));
  const sent = make("section", { hidden: true }, make("h2", {}, _s("Sent")), make("ul", { className: "tasks" }));
  let entries = [], trouble = null;
  const taps = () => entries.filter(outbox.isTap);
  const horns = () => window.offlineHorns.known(kept, entries);
  const why = (one) => {
    if (one.kind === "number") return _s("waits for the page that takes horns back");
    if (one.state === "waiting" && one.after) return _s("waits until the new horn is on record");
    return one.sentence || { waiting: _s("waits for a connection"), draft: _s("begun, not saved yet"), refused: _s("could not be taken") }[one.state];
  };
  const named = (one) => (one.kind === "number" ? _s("%(number)s came back", one) : outbox.isTap(one) ? _s("Counted: %(label)s", one) : one.name);
  async function told() {
    entries = (await outbox.all()).filter((one) => one.path.startsWith(base));
    const rows = entries.filter((one) => one.kind === "number" || one.kind === "form" || (outbox.isTap(one) && one.state === "refused"));
    waiting.querySelector("ul").replaceChildren(...rows.map((one) => {
      const ways = one.state === "refused" ? [" ", make("a", { href: one.path.replace(/sent\/$/, "") }, _s("With a connection, open it")), " ", outbox.throwAway(() => outbox.discard(one).then(told))] : [];
      return make("li", {}, named(one), " ", make("span", { className: "why" }, why(one)), ...ways, " ", make("span", { className: "when" }, when(one.at)));
    }));
    waiting.hidden = !rows.length;
    connection();
  }
  function connection() {
    const many = entries.filter((one) => one.state === "waiting").length;
    const acts = many ? _s_many("%(count)s act waits to be sent.", "%(count)s acts wait to be sent.", many) : "";
    const full = outbox.onlyHere() ? _s("This device keeps nothing more: leave this page open until all is sent.") : "";
    const go = make("a", { href: location.href }, _s("Go on there"));
    const back = entries.filter((one) => one.state === "refused").length;
    const refused = back ? [link(_s_many("%(count)s act could not be taken.", "%(count)s acts could not be taken.", back), "")] : [];
    if (many && trouble && trouble.how !== "no-connection") outbox.tell(note, trouble, acts);
    else outbox.say(note, [navigator.onLine ? _s("The site may be reached again.") : _s("No connection."), acts, full].filter(Boolean).join(" "), ...refused, ...(navigator.onLine ? [go] : []));
  }
  const stuck = (became) => { trouble = became; connection(); };
  const line = outbox.queue({
    ...outbox.formsOf((one) => one.path.startsWith(base)),
    on: { changed: () => { trouble = null; return told(); }, sent: tellSent, stuck, rest: renew },
  });
  let news = false;
  /* What the site made of it: the number a new horn got, before all. */
  function tellSent([{ makes }], { to, said }) {
    news = true;
    const horn = /\/horns\/\d+\//.exec(to)?.[0];
    sent.querySelector("ul").append(make("li", {}, makes ? `${makes.number}: ${said}` : said));
    sent.hidden = false;
    if (makes && horn && location.pathname.includes(`/horns/${makes.id}/`)) history.replaceState(null, "", location.href.replace(`/horns/${makes.id}/`, horn));
  }
  /* Once all is sent the register has moved on; so does what is kept of it, unless another version of the site tells it. */
  async function renew(left) {
    if (left || !news) return;
    news = false;
    const answer = await fetch(about, { credentials: "same-origin", redirect: "error", cache: "no-cache" }).catch(() => null);
    const newer = answer?.ok && await answer.clone().json().catch(() => null);
    if (!newer || String(newer.drawn_with) !== String(kept.drawn_with)) return;
    const cache = await window.caches?.open(`along ${base} ${outbox.by}`);
    await cache?.put(about, answer).catch(() => {});
    kept = newer;
    if (typing()) document.activeElement.oninput?.(); else draw();
  }
  const typing = () => shown.contains(document.activeElement) && document.activeElement.matches("input, select, textarea");

  const tapLines = new Map();
  function tapLine(path) {
    if (!tapLines.has(path)) tapLines.set(path, outbox.queue({ ...outbox.tapsOf(path), on: { changed: told, sent: () => { news = true; }, stuck, rest: renew } }));
    return tapLines.get(path);
  }

  const kind = "form";
  const saidKept = (what) => (outbox.onlyHere()
    ? _s("This device has no room left, or keeps nothing. Kept only while this page is open: %(act)s. Leave it open until there is a connection.", { act: what })
    : _s("Kept on this device: %(act)s. It goes on record as soon as there is a connection.", { act: what }));
  async function keep({ path, name, fields, makes, leaves, more = "", ...rest }, id = outbox.newId(), to = "") {
    const made = makes && window.offlineHorns.fresh(kept, entries, id, makes);
    const entry = { key: `${outbox.by} ${base}${path} ${id}`, kind, path: base + path, name: name ?? made.number, fields: [["sent_as", id], ...fields] };
    await outbox.put({ ...entry, ...rest, makes: made, leaves: leaves?.(id) });
    await told();
    line.send();
    done = saidKept(made ? _s("a new horn, %(kind)s, for now called %(number)s", made) : entry.name + more);
    go(base + to);
    if (made) shown.querySelector(".good")?.append(" ", link(_s("Go on with %(number)s", made), `horns/${made.id}/`));
  }
  const seenOf = (horn) => String(horn.seen || "");
  const keepOn = (horn, act, id) =>
    keep({ ...act, path: `horns/${horn.id}/${act.path}`, about: horn.id, after: horn.after, seen: seenOf(horn) }, id, `horns/${horn.id}/`);
  /* A check that is typed is a draft at once, in the place where the site's own page looks for one. */
  async function drafts(horn) {
    const path = `${base}horns/${horn.id}/check/`;
    const begun = entries.filter((one) => one.kind === kind && one.path === path && one.state !== "waiting" && !one.tap).at(-1);
    const id = begun?.fields.find(([field]) => field === "sent_as")?.[1] ?? outbox.newId();
    const until = Date.now() + outbox.DRAFT_DAYS * 86400000;
    const draft = (fields) => outbox.put({
      key: `${outbox.by} ${path} ${id}`, kind, path, name: _s("Check of %(horn)s", { horn: horn.number }), seen: seenOf(horn), after: horn.after, state: "draft", until, fields: [["sent_as", id], ...fields],
    });
    return { draft, fields: begun?.fields, id };
  }

  const record = window.offlineRecord({ kept: () => kept, horns, make, keep });

  const walk = window.offlineWalk({
    reason, tables, shares: kept.shares, make, record, go: (query) => go(`${base}identify/${String(query) ? `?${query}` : ""}`),
  });

  /* Horns are found by number, kind or place, in any order of the words, and by the code of a label. */
  const plain = (words) => words.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();
  const text = (one) => plain([one.number, one.number.replace(/-?0*(?=\d)/g, ""), one.kind, one.place, one.label, one.where].join(" "));
  const having = (all, words) => {
    const wanted = plain(words).split(/\s+/).filter(Boolean);
    return all.filter(([, one]) => wanted.every((word) => one.includes(word))).map(([one]) => one);
  };
  const labelled = (code) => kept.horns.find(({ label }) => code.toUpperCase().replace(/\/$/, "").endsWith(`/${label}`));
  function list(words) {
    const box = make("input", { type: "search", id: "q", value: words, autocomplete: "off", enterKeyHint: "go" });
    const found = make("ul", { className: "tasks" }), more = paragraph("", "quiet");
    const fill = () => {
      // Those without a number are the newest, so they stand first.
      const known = horns(), texts = [...known.filter((one) => one.after), ...known.filter((one) => !one.after)].map((one) => [one, text(one)]);
      const all = having(texts, box.value);
      found.replaceChildren(...all.slice(0, LISTED).map((one) => make("li", {}, link(`${one.number}, ${one.kind}`, `horns/${one.id}/`), " ",
        make("span", { className: "why" }, [one.place, one.in_place ? "" : one.where].filter(Boolean).join(" · ")))));
      more.textContent = all.length > LISTED ? _s("and %(many)s more", { many: all.length - LISTED }) : all.length ? "" : _s("No such horn is kept here.");
    };
    box.oninput = fill;
    fill();
    // The number of a horn in hand is typed as it stands on its label, and Enter opens it.
    const opens = make("form", { role: "search" }, outbox.field(_s("Number, kind or place"), box));
    opens.onsubmit = (event) => {
      event.preventDefault();
      const typed = plain(box.value.trim());
      const one = horns().find(({ number }) => plain(number) === typed) ?? (found.children.length === 1 && found.querySelector("a"));
      if (one) go(one.href ?? `${base}horns/${one.id}/`);
    };
    const scan = make("button", { type: "button", hidden: true }, _s("Scan with the camera")), video = make("video", { muted: true, playsInline: true, hidden: true });
    const said = paragraph("", "quiet");
    window.scanner(scan, video, {
      read: (code) => {
        const horn = labelled(code);
        if (horn) go(`${base}horns/${horn.id}/`); else said.textContent = _s("This label belongs to no horn that is kept here.");
      },
      say: (words) => { said.textContent = words; },
    });
    if (scan.hidden) said.textContent = _s("This browser reads no labels itself: type the number on it, or point the phone’s own camera at it.");
    return make("section", {}, make("h2", {}, _s("Horns")), opens, scan, video, said, found, more);
  }
  const one = window.offlineHorn({ kept: () => kept, make, link, keep: keepOn });
  const check = window.offlineCheck({
    kept: () => kept, make, drafts,
    keep: (horn, fields, leaves, id) => keepOn(horn, { path: "check/", name: _s("Check of %(horn)s", { horn: horn.number }), fields, leaves }, id),
  });
  const counted = window.offlineCount({ counts: () => kept.counts, horns: () => kept.horns, make, link, keep: (tap) => tapLine(tap.path).add(tap) });
  const kinds = () => [make("h1", {}, _s("Kinds of horn")), document.getElementById("kinds").content.cloneNode(true)];

  let done = "";
  function home(missing) {
    const days = Math.floor((Date.now() - Date.parse(kept.made)) / 86400000);
    return [make("h1", {}, _s("Without a connection")), done && make("p", { className: "box good", role: "status" }, done),
      missing && paragraph(_s("The page you asked for needs a connection. This is what is kept here.")),
      make("p", { className: "buttons" }, link(_s("Identify a horn"), "identify/", { className: "button main big" }), " ", link(_s("Kinds of horn"), "guide/", { className: "button" })),
      waiting, sent, ...kept.counts.map((one) => make("p", {}, link(one.title, `counts/${one.id}/`))), list(new URLSearchParams(location.search).get("q") ?? ""),
      paragraph([days > 1 ? _s("As it was on %(when)s, %(days)s days ago.", { when: when(kept.made), days }) : _s("As it was on %(when)s.", { when: when(kept.made) }), _s("Who has a horn is not kept here.")].join(" "), "quiet")];
  }
  async function draw() {
    const path = location.pathname.startsWith(base) ? location.pathname.slice(base.length) : "";
    const [, key, does] = /^horns\/([\w-]+)\/(check\/)?$/.exec(path) ?? [];
    const horn = key && horns().find(({ id }) => String(id) === key);
    const [, count] = /^counts\/(\d+)\/(?:shelf\/)?$/.exec(path) ?? [];
    const counting = count && counted(count, new URLSearchParams(location.search), taps());
    const ready = done && make("p", { className: "box good", role: "status" }, done);
    if (counting) put(...counting);
    else if (path === "identify/") put(walk(new URLSearchParams(location.search)));
    else if (horn && does) put(...await check(horn));
    else if (horn) put(ready, ...one(horn));
    else if (path.startsWith("guide/")) put(...kinds());
    else put(...home(!["", "horns/", "along/", "along/cupboard/"].includes(path)));
    done = "";
    document.title = [shown.querySelector("h1")?.textContent ?? "Horn Cupboard", _s("without a connection")].join(" · ");
  }
  document.querySelector("[data-home]").onclick = (event) => { event.preventDefault(); go(base); };
  window.addEventListener("popstate", draw);
  for (const change of ["online", "offline"]) window.addEventListener(change, () => { trouble = null; told(); });
  // Opened by a label, which says nothing of a school: its horn, or the page that says it is not kept.
  if (!location.pathname.startsWith(base)) history.replaceState(null, "", `${base}${labelled(location.pathname) ? `horns/${labelled(location.pathname).id}/` : ""}`);
  await told();
  await draw();
  line.send();
  new Set(taps().map(({ path }) => path)).forEach((path) => tapLine(path).send());
})();
