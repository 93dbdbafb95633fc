/* Counting on the kept page: the places of a count and the horns that belong there, each seen by a tap that is kept.
 *
 * offlineCount({ counts, horns, make, link, keep }) gives a function from a count's key, an address's query and the taps that wait
 * to what is shown; `keep(tap)` puts one into the outbox. What others saw meanwhile is not known here.
 */
"use strict";
window.offlineCount = ({ counts, horns, make, link, keep }) => {
  const NO_PLACE = _s("no place");
  const here = (count, place) => count.lines.filter((one) => String(one.place ?? "") === place);
  const seenNow = (taps, count, horn) => taps.some((one) => one.path === count.send && one.horn === horn);

  function places(count, taps) {
    const all = [...new Map(count.lines.map((one) => [String(one.place ?? ""), one.place_words || NO_PLACE]))];
    return [make("h1", {}, count.title), make("ul", { className: "tasks" }, ...all.map(([place, words]) => {
      const lines = here(count, place);
      const seen = lines.filter((one) => one.seen || seenNow(taps, count, one.horn)).length;
      return make("li", {}, link(words, `counts/${count.id}/shelf/?place=${place}`), " ",
        make("span", { className: "why" }, _s("%(seen)s of %(all)s seen", { seen, all: lines.length })));
    }))];
  }

  function shelf(count, place, taps) {
    const lines = here(count, place);
    const said = make("p", { className: "quiet", role: "status" });
    const number = make("input", { id: "number", maxLength: 200, autocomplete: "off", spellcheck: false, enterKeyHint: "done" });
    const tap = (horn, typed, label) => keep({
      kind: "tap", path: count.send, horn, number: typed, note: "", place: place ? Number(place) : null, label,
    });
    const typed = make("form", { className: "typed" }, outbox.field(_s("Register number"), number), make("button", {}, _s("Seen here")));
    typed.onsubmit = async (event) => {
      event.preventDefault();
      const words = number.value.trim();
      if (!words) { said.textContent = _s("Type the register number, or tap a horn."); return; }
      number.value = "";
      number.focus();
      await tap(null, words, words.slice(0, 40));
      said.textContent = _s("%(number)s: kept", { number: words });
    };
    const row = (one) => {
      const state = make("span", { className: "quiet state" });
      const button = make("button", { type: "button", className: "tap" }, _s("Seen"));
      const mark = (words) => { state.textContent = words; button.hidden = Boolean(words); };
      button.onclick = async () => { await tap(one.horn, "", one.number); mark(_s("✓ kept, not sent yet")); };
      mark(seenNow(taps, count, one.horn) ? _s("✓ kept, not sent yet") : one.seen ? _s("✓ seen") : "");
      return make("li", {}, make("p", { className: "which" }, make("b", {}, one.number), ` ${horns().find(({ id }) => id === one.horn)?.kind ?? ""}`), button, state);
    };
    return [make("h1", {}, lines[0]?.place_words || _s("Horns without a place")), make("p", { className: "lead" }, _s("Tap each horn you see here.")),
      typed, make("p", { className: "help" }, _s("A horn without a number: type “no label”.")), said,
      make("ul", { className: "shelf" }, ...lines.map(row)), make("p", {}, link(_s("Other places"), `counts/${count.id}/`))];
  }

  return (key, query, taps) => {
    const count = counts().find(({ id }) => String(id) === key);
    if (!count) return null;
    return query.has("place") ? shelf(count, query.get("place"), taps) : places(count, taps);
  };
};
