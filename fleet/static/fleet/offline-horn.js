/* A horn on the kept page: what it is and where it belongs, and a look over it that finds it fine or as it was.
 *
 * offlineHorn({ finishes, make, link, cameBack, keep }) gives a function from a horn to what is shown; `keep(path, name, fields)` puts
 * a form into the outbox, `cameBack(horn)` notes a return for those who take horns back. Where somebody looked since, the site refuses such a look: what it was like before is not what was seen.
 */
"use strict";
window.offlineHorn = ({ finishes, make, link, cameBack, keep }) => {
  const PLAYS_WELL = 1;
  const fact = (label, words) => make("div", {}, make("dt", {}, label), make("dd", {}, words));

  function picture({ build, kind }) {
    const drawn = build && document.getElementById("kinds").content.querySelector(`#kind-${CSS.escape(build)} figure`);
    return drawn ? [make("div", { className: "kind" }, drawn.cloneNode(true), make("p", {}, kind))] : [];
  }

  function looks(horn) {
    const press = (words, as) => make("button", {
      type: "button", className: "button",
      onclick: () => keep(`horns/${horn.id}/check/`, `Check of ${horn.number}`, [["as_before", as], ["seen", horn.seen], ["occasion", "other"]]),
    }, words);
    if (!horn.seen) return finishes.map(([finish, words]) => press(`All fine, ${words}`, `fine-${finish}`));
    if (horn.grade === PLAYS_WELL) return [press("All fine as before", "fine")];
    return [press("As before", "1"), press("All fine, nothing is wrong any more", "fine")];
  }

  return (horn) => [
    make("h1", {}, horn.number),
    ...picture(horn),
    make("dl", { className: "facts one" }, ...[["Kind", horn.kind], ["Where", horn.where], ["Place", horn.place], ["Condition", horn.condition]]
      .filter(([, words]) => words).map(([label, words]) => fact(label, words))),
    ...(cameBack && horn.out ? [make("p", { className: "buttons" }, make("button", { type: "button", className: "button main", onclick: () => cameBack(horn) }, "It came back"))] : []),
    make("h2", {}, "You looked it over"),
    make("p", { className: "quiet" }, "Saved as soon as there is a connection. What is wrong with it is written down on its own page."),
    make("p", { className: "buttons" }, ...looks(horn)),
    make("p", { className: "buttons" }, link("Find out what it is", `identify/?horn=${horn.id}`, { className: "button main" }), " ", link("All horns", "horns/")),
  ];
};
