/* The walk on the kept page: one step or the result of what stands in the address, as the site itself would show it.
 *
 * offlineWalk({ reason, tables, shares, make, go, record }) gives a function from an address's query to what is shown: `make`
 * builds elements, `go(query)` moves on, `record(query, verdict, horn)` gives the form that puts the walk on record.
 */
"use strict";
window.offlineWalk = ({ reason, tables, shares, make, go, record }) => {
  const CANT_TELL = "cant-tell";
  const RESULT = "result";
  const TUBES = 3; // so many at most are told how they sound, the likeliest first
  const LIKE_CHECKS = 2; // of a horn like the one before so many are asked before the page says what they amount to
  const template = (key) => document.getElementById(`question-${key}`);
  const short = (key) => template(key).dataset.short;
  const within = (key) => template(key).dataset.within; // the same inside a sentence
  const asked = ({ answers, passed }, key) => key in answers || passed.includes(key);
  const asItIsAsked = (key, { valves }) => (valves === "0" && template(`${key}-bare`)) || template(key); // `of_horn` of identify/asked.py
  const wordsOf = (key, answers, answer = answers[key] ?? CANT_TELL) =>
    asItIsAsked(key, answers).content.querySelector(`[data-answer="${CSS.escape(answer)}"]`)?.dataset.words ?? answer;

  function read(query) {
    const given = reason.CHECKS.filter((key) => query.has(key)).map((key) => [key, query.get(key)]);
    const knows = ([key, answer]) => tables.checks[key].answers.includes(answer);
    const answers = Object.fromEntries(given.filter(knows));
    const passed = given.filter(([, answer]) => answer === CANT_TELL).map(([key]) => key);
    let again = (query.get("again") ?? "").split(",").filter((key) => key in answers);
    const [key, first] = (query.get("first") ?? "").split(":");
    // Only the same answer once more counts as looked at twice.
    if (key in answers && answers[key] === first) again = [...new Set([...again, key])];
    const step = query.get("step") ?? "";
    const wanted = step === RESULT || tables.checks[step] ? step : "";
    const seen = { answers, passed, again, like: query.get("like") ?? "" };
    return { ...seen, wanted, horn: query.get("horn") ?? "", blind: asked(seen, wanted) && query.get("look") === "again" };
  }

  /* What the address carries on; a check left out is no longer marked as looked at twice. */
  function carried({ answers, passed, again, like, horn }, leaveOut = "") {
    const query = new URLSearchParams();
    for (const key of reason.CHECKS) {
      if (key !== leaveOut && (key in answers || passed.includes(key))) query.set(key, answers[key] ?? CANT_TELL);
    }
    const twice = again.filter((key) => key !== leaveOut);
    for (const [name, value] of [["again", twice.join(",")], ["like", like], ["horn", horn]]) if (value) query.set(name, value);
    return query;
  }
  function to(walk, step = "", look = false) {
    const query = carried(walk);
    if (step) query.set("step", step);
    if (look) query.set("look", "again");
    return query;
  }
  const link = (words, query) => {
    const made = make("a", { href: `?${query}` }, words);
    made.onclick = (event) => { event.preventDefault(); go(query); };
    return made;
  };
  const items = (some, how = "why") => make("ul", { className: how }, ...some.map((one) => make("li", {}, one)));
  const between = (some) => some.flatMap((one, place) => (place ? [", ", one] : [one]));

  /* Of what may be heard, that of the horns still possible (`to_expect` of identify/playing.py); on a second look only what tells
   * nothing of the first. */
  function expect(shown, { blind }, key, { candidates: [leading, ...others] }) {
    const tubes = template(key).dataset.tubes.split(" ");
    const fold = shown.querySelector(".expect");
    if (!fold || tubes.length < 2) return;
    const chance = new Map();
    for (const one of [leading, ...others.filter(({ probability }) => probability >= tables.bounds.still_possible)]) {
      const tube = tubes[tables.every.whole[one.form]];
      if (tube !== "-") chance.set(tube, (chance.get(tube) ?? 0) + one.probability);
    }
    const likeliest = [...chance.keys()].sort((a, b) => chance.get(b) - chance.get(a)).slice(0, TUBES);
    const all = [...fold.querySelectorAll("[data-tube]")];
    fold.querySelector("summary").after(...likeliest.map((tube) => all.find((one) => one.dataset.tube === tube)));
    for (const one of all) if (!likeliest.includes(one.dataset.tube)) one.remove();
    if (blind || !likeliest.length) fold.remove();
  }

  function step(walk, key, told) {
    const { answers, passed, blind } = walk;
    const shown = asItIsAsked(key, answers).content.cloneNode(true);
    expect(shown, walk, key, told);
    const given = blind ? "" : answers[key] ?? (passed.includes(key) ? CANT_TELL : "");
    for (const button of shown.querySelectorAll("[data-answer]")) {
      const { answer } = button.dataset;
      if (answer === given) button.setAttribute("aria-current", "true");
      button.onclick = () => {
        const query = carried(walk, key);
        query.set(key, answer);
        if (blind && key in answers) query.set("first", `${key}:${answers[key]}`);
        go(query);
      };
    }
    if (blind) {
      shown.querySelector("h1").after(make("p", { className: "box notice" }, _s("A second look. Your first answer is kept and not shown: look as if for the first time. Only the same answer once more makes the verdict surer.")));
    }
    return make("div", { className: "walk" }, make("div", { className: "asked" }, shown), ways(walk, key));
  }
  function ways(walk, key) {
    const order = [...document.querySelectorAll("template[data-short]:not([id$=-bare])")].map((one) => one.id.slice("question-".length));
    const before = order.slice(0, key ? order.indexOf(key) : order.length).reverse().find((one) => asked(walk, one));
    const offered = [before && link(_s("Back"), to(walk, before))];
    if (key && asked(walk, key)) offered.push(link(walk.blind ? _s("Leave the first answer, without a second look") : _s("Leave this answer and go on"), to(walk)));
    if (key && Object.keys(walk.answers).length) offered.push(link(_s("Show what we have so far"), to(walk, RESULT)));
    if (!key) offered.push(link(_s("Start again"), new URLSearchParams()));
    return make("p", { className: "ways" }, ...offered.filter(Boolean).flatMap((one) => [one, " "]));
  }

  function result(walk, told) {
    const { leading, seen } = told;
    const coming = reason.usualNext(told);
    const again = (keys) => between(keys.map((key) => link(short(key), to(walk, key, true))));
    const box = (kind, title, ...inside) => make("div", { className: `box ${kind}` }, make("p", { className: "box-title" }, title), ...inside);
    const lines = (sentences) => sentences.map((one) => make("p", {}, one));
    const said = reason.reasons(leading, seen);
    const shorts = (speaks) => said.filter((one) => one.speaks_for === speaks).map((one) => one.short);
    const head = told.nothing_observed
      ? [make("h1", {}, _s("Nothing was observed")), make("p", { className: "lead" }, _s("So this says nothing about the horn in your hand, only what schools mostly have."))]
      : [make("p", { className: "lead" }, reason.headline(told)), make("h1", { className: "found" }, reason.oneOf(leading))];
    const next = coming && !told.settled
      ? link(_s("Next check: %(check)s", { check: within(coming) }), to(walk, coming))
      : told.confirm.length && told.likely && link(_s("Look once more: %(check)s", { check: within(told.confirm[0]) }), to(walk, told.confirm[0], true));
    if (next) next.className = "button main big";
    const observed = reason.CHECKS.filter((key) => asked(walk, key)).map((key) =>
      make("div", {}, make("dt", {}, asItIsAsked(key, walk.answers).dataset.short), make("dd", {}, wordsOf(key, walk.answers), " ", link(_s("change"), to(walk, key)))));
    return make("div", { className: "walk" }, ...[
      ...head,
      leading.not_words && !told.nothing_observed && box("notice", _s("This is no French horn"), make("p", {}, leading.not_words, " ", _s("Register it as what it is."))),
      leading.states.length && box("caution", _s("Something is wrong with it"), ...lines(leading.states.map((one) => one.look))),
      told.clash && box("caution", _s("Look again"), ...lines(reason.doubts(told)), told.doubt.length && make("p", {}, ...again(told.doubt))),
      !told.clash && told.confirm.length && box("notice", _s("Worth a second look"), ...lines(reason.confirmations(told)), make("p", {}, ...again(told.confirm))),
      told.twins.length && box("notice", _s("Either of these"), make("p", {}, _s("No check tells them apart: %(horns)s.", { horns: [leading, ...told.twins].map(reason.oneOf).join(_s(" or ")) }))),
      next && make("p", { className: "buttons" }, next),
      told.alike.length && make("p", { className: "small quiet" }, _s("What looks like the one before and is another kind would show by what was not asked:"), " ", ...between(told.alike.map((key) => link(within(key), to(walk, key))))),
      told.rests_on.length && make("p", { className: "small quiet" }, _s("Were one of these answers wrong, this would be another horn or stand otherwise:"), " ", ...again(told.rests_on)),
      told.unasked && make("p", { className: "small quiet" }, _s("A valve that is stuck or strung the wrong way could hide another horn too. Not asked:"), " ", link(short(told.unasked), to(walk, told.unasked))),
      ...(told.nothing_observed ? [] : [
        record(carried(walk), told, walk.horn),
        make("h2", {}, _s("Why")), items(shorts(true)),
        ...(shorts(false).length ? [make("h3", {}, _s("What does not fit")), items(shorts(false))] : []),
        make("h2", {}, _s("What was observed")), make("dl", { className: "facts one observed" }, ...observed),
      ]),
      ways(walk, null),
    ].filter(Boolean));
  }

  return (query) => {
    const walk = read(query);
    const told = reason.assess(walk, shares);
    const enough = walk.like && reason.CHECKS.filter((key) => asked(walk, key)).length >= LIKE_CHECKS;
    const key = walk.wanted === RESULT ? null : walk.wanted || (enough ? null : reason.usualNext(told));
    return key ? step(walk, key, told) : result(walk, told);
  };
};
