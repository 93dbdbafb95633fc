/* A horn on the kept page: what it is and where it belongs, and what can be done to it here: looked over, mended, put in another place,
 * photographed, noted as back.
 *
 * offlineHorn({ kept, make, link, keep }) gives a function from a horn to what is shown; `keep(horn, act)` puts an act into the
 * outbox. Where somebody did something to the horn since, the site
 * refuses such an act: what it was like before is not what was seen.
 */
"use strict";
window.offlineHorn = ({ kept, make, link, keep }) => {
  const PLAYS_WELL = 1;
  const fact = (label, words) => make("div", {}, make("dt", {}, label), make("dd", {}, words));
  const press = (words, onclick, main = "") => make("button", { type: "button", className: `button ${main}`.trim(), onclick }, words);
  const words = (code) => kept().checked_for.parts.flatMap(({ faults }) => faults).find((one) => one.code === code);

  function picture({ build, kind }) {
    const drawn = build && document.getElementById("kinds").content.querySelector(`#kind-${CSS.escape(build)} figure`);
    return drawn ? [make("div", { className: "kind" }, drawn.cloneNode(true), make("p", {}, kind))] : [];
  }

  function looks(horn) {
    const look = (said, as, { found = [], finish = horn.finish } = {}) => press(said, () => keep(horn, {
      path: "check/", name: _s("Check of %(horn)s", { horn: horn.number }), fields: [["as_before", as], ["seen", horn.seen], ["occasion", horn.occasion]], tap: true,
      leaves: (id) => ({ ...window.offlineCheck.graded(kept(), found), found, finish, seen: id }),
    }));
    if (!horn.seen) return kept().finishes.map(([finish, said]) => look(_s("All fine, %(finish)s", { finish: said }), `fine-${finish}`, { finish }));
    if (horn.grade === PLAYS_WELL) return [look(_s("All fine as before"), "fine")];
    return [look(_s("As before"), "1", { found: horn.found }), look(_s("All fine, nothing is wrong any more"), "fine")];
  }

  /* What is wrong with it, each with the one tap that says it is mended, where trained staff may mend it. */
  function wrong(horn) {
    const mended = ([code]) => {
      const found = horn.found.filter((one) => one[0] !== code);
      return keep(horn, {
        path: `mended/?fault=${code}`, name: _s("%(number)s mended: %(fault)s", { number: horn.number, fault: words(code).words }), fields: [["seen", horn.seen]],
        leaves: (id) => ({ ...window.offlineCheck.graded(kept(), found), found, seen: id }),
      });
    };
    const row = (one) => {
      const fault = words(one[0]);
      const said = make("p", { className: "help", hidden: true }, [fault?.do, _s("Then play the horn. Parts are taken off the shelf on the site.")].filter(Boolean).join(" "));
      const sure = press(_s("Mended, played and checked"), () => mended(one), "main");
      const now = outbox.button(_s("Mended now"), () => { [said.hidden, now.hidden] = [false, true]; said.append(" ", sure); });
      now.className += " do";
      return make("li", {}, make("span", {}, fault?.words ?? one[0].replaceAll("-", " ")), ...(fault?.who === "staff" && horn.seen ? [now, said] : []));
    };
    return horn.found.length ? [make("h2", {}, _s("What is wrong with it")), make("ul", { className: "tasks" }, ...horn.found.map(row))] : [];
  }

  function place(horn) {
    const choices = window.offlineHorns.places(kept(), _s("no place"));
    choices.value = horn.place_id ?? "";
    const set = press(_s("Set its place"), () => {
      const id = Number(choices.value) || null, name = id ? choices.selectedOptions[0].textContent : "";
      if (id === (horn.place_id ?? null)) return;
      keep(horn, {
        path: "place/", name: name ? _s("%(number)s belongs to %(place)s", { number: horn.number, place: name }) : _s("%(number)s belongs to no place", horn), leaves: () => ({ place: name, place_id: id }),
        fields: [["place", choices.value], ["seen", horn.place_id ?? ""]],
      });
    });
    return outbox.field(_s("It belongs to"), choices, make("p", { className: "buttons" }, set));
  }

  /* That it came back, and with what: what went out with it is not kept here, so the usual accessories are offered. */
  function cameBack(horn) {
    const choice = (type, name, value, words) => make("p", {}, make("label", {}, make("input", { type, name, value, checked: value === horn.finish }), ` ${words}`));
    const group = (legend, ...all) => make("fieldset", { className: "field" }, make("legend", {}, legend), ...all);
    const words = make("input", { id: "words", name: "words", maxLength: 300, autocomplete: "off" });
    const unsaid = make("p", { className: "wrong-answer", role: "alert", hidden: true });
    const form = make("form", { className: "form", hidden: true },
      group(_s("Came back with it"), ...kept().accessories.map(([value, said]) => choice("checkbox", "came_back", value, said))),
      group(_s("Finish"), ...kept().finishes.map(([value, said]) => choice("radio", "finish_grade", value, said)), unsaid),
      outbox.field(_s("Note"), words, make("p", { className: "help" }, _s("About the horn, not about people."))),
      make("p", { className: "buttons" }, make("button", { className: "main" }, _s("Save"))));
    form.onsubmit = (event) => {
      event.preventDefault();
      const fields = [...new FormData(form)];
      outbox.say(unsaid, fields.some(([name]) => name === "finish_grade") ? "" : _s("Say how the finish is."));
      if (unsaid.hidden) keep(horn, { path: "noted/", name: _s("%(number)s came back", horn), fields, leaves: () => ({ out: false, where: _s("noted as back") }) });
    };
    const opens = press(_s("It came back"), () => { [opens.hidden, form.hidden] = [true, false]; form.querySelector("input").focus(); }, "main");
    return [make("p", { className: "buttons" }, opens), form];
  }

  function photograph(horn) {
    const wrongOne = make("p", { className: "wrong-answer", role: "alert", hidden: true });
    const file = make("input", { type: "file", id: "picture", accept: "image/jpeg,image/png,image/webp" });
    file.setAttribute("capture", "environment");
    file.onchange = async () => {
      if (!file.files[0]) return;
      const small = await window.smaller(file.files[0]);
      outbox.say(wrongOne, window.smaller.tooLarge(small));
      if (!wrongOne.hidden) return;
      await keep(horn, {
        path: "photographs/new/", name: _s("Photograph of %(horn)s", { horn: horn.number }), fields: [["picture", small]], leaves: () => ({ pictured: (horn.pictured ?? 0) + 1 }),
      });
    };
    return outbox.field(_s("Photograph it"), file, make("p", { className: "help" }, _s("The horn only: no pupils. Made smaller here before it is kept.")), wrongOne);
  }

  return (horn) => [
    make("h1", {}, horn.number),
    ...picture(horn),
    make("dl", { className: "facts one" }, ...[[_s("Kind"), horn.kind], [_s("Where"), horn.where], [_s("Place"), horn.place], [_s("Condition"), horn.condition],
      [_s("Photographs kept here"), horn.pictured && String(horn.pictured)]].filter(([, said]) => said).map(([label, said]) => fact(label, said))),
    ...(kept().takes_back && horn.out ? cameBack(horn) : []),
    ...wrong(horn),
    make("h2", {}, _s("You looked it over")),
    make("p", { className: "quiet" }, _s("Saved as soon as there is a connection.")),
    make("p", { className: "buttons" }, ...looks(horn), link(_s("Something is wrong: check it"), `horns/${horn.id}/check/`, { className: "button" })),
    make("h2", {}, _s("More to do")),
    make("div", { className: "form" }, place(horn), photograph(horn)),
    make("p", { className: "buttons" }, ...(horn.after ? [] : [link(_s("Find out what it is"), `identify/?horn=${horn.id}`, { className: horn.build ? "button" : "button main" }), " "]), link(_s("All horns"), "horns/")),
  ];
};
