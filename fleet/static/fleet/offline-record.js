/* The form that puts a walk on record on the kept page: on a new horn, or on one that is known here.
 *
 * offlineRecord({ kept, horns, make, keep }) gives a function from a walk's query, its verdict and the key of the horn in hand to what
 * is shown; `keep(act)` puts it into the outbox.
 */
"use strict";
window.offlineRecord = ({ kept, horns, make, keep }) => (query, verdict, horn) => {
  const path = `horns/identified/?${query}`;
  const kinds = make("select", { name: "kind", id: "kind" }, ...verdict.candidates.map((one) =>
    make("option", { value: `${one.code}|${one.stands_in ?? ""}` }, one.words)));
  const places = window.offlineHorns.places(kept(), _s("no place yet"));
  const number = make("input", { name: "horn_number", id: "horn_number", autocomplete: "off", maxLength: 24 });
  const wrong = make("p", { className: "wrong-answer", role: "alert", hidden: true });
  const { field } = outbox;
  const press = (words, main, act) => make("button", { type: "button", className: main ? "button main big" : "button", onclick: act }, words);
  const registered = horns().filter((one) => !one.after);
  const known = registered.find((one) => String(one.id) === horn);
  const said = () => ({ code: kinds.value.split("|")[0], words: kinds.selectedOptions[0].textContent });
  const asNew = () => {
    const { next_number: next } = kept();
    const place = { id: Number(places.value) || null, name: places.value && places.selectedOptions[0].textContent };
    keep({ path, fields: [["kind", kinds.value], ["act", "as-new"], ["number", next], ["suggested", next], ["place", places.value]], makes: { ...said(), place } });
  };
  const onHorn = () => {
    const asked = (known?.number ?? number.value).trim();
    const there = registered.find((one) => one.number.toLowerCase() === asked.toLowerCase());
    if (!there) { outbox.say(wrong, asked ? _s("There is no horn %(number)s among those kept here.", { number: asked }) : _s("Say which horn.")); number.focus(); return; }
    const { code, words } = said();
    keep({
      path, name: there.number, more: `, ${words}`, about: there.id, leaves: () => ({ build: code, kind: words, asks: kept().kinds_ask[code] ?? there.asks }),
      fields: [["kind", kinds.value], ["act", "on-horn"], ["horn_number", there.number]],
    });
  };
  return make("section", { className: "form" }, make("h2", {}, _s("Put it on record")), field(_s("It is a"), kinds), ...(known
    ? [press(_s("Put it on horn %(number)s", known), true, onHorn)]
    : [field(_s("Place"), places), press(_s("As a new horn"), verdict.settled, asNew), make("p", { className: "quiet" }, _s("It gets its number from the register.")),
      wrong, field(_s("Or on the registered horn"), number), press(_s("On that horn"), false, onHorn)]));
};
