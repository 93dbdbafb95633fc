/* A full condition check on the kept page: all that a horn of this kind can have, as the site's own page asks it.
 *
 * offlineCheck({ kept, make, drafts, keep }) gives a function from a horn to what is shown. What is typed is a draft at once:
 * drafts(horn) promises the one that is there. `keep(horn, fields, leaves, id)` saves it. A note from before is not kept here: a fault that
 * comes ticked keeps its own, unless another is typed. As on the site's page a check has three pictures, here each beside its fault or of
 * the horn.
 */
"use strict";
window.offlineCheck = ({ kept, make, drafts, keep }) => {
  const PICTURES = 3;
  let small = Promise.resolve(); // once every picture that was chosen is made small
  const about = () => kept().checked_for;
  const { field } = outbox;
  const choose = (name, choices, value) => {
    const made = make("select", { name, id: `id_${name}` }, ...choices.map(([one, words]) => make("option", { value: one }, words)));
    made.value = value;
    return made;
  };
  const input = (name, how) => make("input", { name, id: `id_${name}`, autocomplete: "off", ...how });
  const tick = (name, value, words, checked) => make("label", {}, make("input", { type: "checkbox", name, value, checked }), ` ${words}`);

  function figures(fault, number, measured) {
    const { code, counts, measure } = fault;
    return [
      counts && field(_s("How many"), input(`number-${code}`, { type: "number", min: 1, max: about().most, value: number ?? "" })),
      measure && field(measure.asks, input(`measured-${code}`, { type: "number", step: "any", min: measure.least, max: measure.most, value: measured ?? "" })),
    ].filter(Boolean);
  }

  /* A picture of a fault, by its code, or of the horn. */
  function picture(words, shows = "") {
    const wrong = make("p", { className: "wrong-answer", role: "alert", hidden: true });
    const file = make("input", { type: "file", id: `id_picture-of-${shows}`, accept: "image/jpeg,image/png,image/webp" });
    file.dataset.shows = shows;
    file.setAttribute("capture", "environment");
    const chosen = async () => {
      await window.smaller.chosen(file);
      outbox.say(wrong, window.smaller.tooLarge(file.files[0]));
      if (!wrong.hidden) file.value = "";
      file.form.oninput();
    };
    file.onchange = () => { small = small.then(chosen); };
    return field(words, file, wrong);
  }
  /* Of what is not ticked none is sent. */
  const taken = (form) => [...form.querySelectorAll("[data-shows]")].filter(({ files, dataset: { shows } }) =>
    files.length && (!shows || form.elements[`found-${shows}`].checked));

  /* What is asked of a fault once it is ticked. */
  function more(fault, has, [, severity, places, number, measured] = []) {
    const { code } = fault;
    const told = [fault.stops && _s("Not lent with it: %(stops)s.", fault), fault.do, fault.for_whom];
    const where = fault.at && [...new Set([...has[fault.at], ...(places ?? [])])];
    return make("div", { className: "fault-more" },
      make("p", { className: "help" }, told.filter(Boolean).join(" ")),
      ...(where ? [make("div", { className: "places", role: "group", ariaLabel: `${about().which[fault.at]}: ${fault.words}` },
        make("b", {}, about().which[fault.at]),
        ...where.map((one) => tick(`at-${code}`, one, about().places[fault.at][one] ?? one, (places ?? []).includes(one))))] : []),
      ...(fault.finish ? [] : [field(_s("How bad"), choose(`severity-${code}`, about().severities, severity ?? fault.severity))]),
      ...figures(fault, number, measured),
      field(_s("Note"), input(`note-${code}`, { type: "text", maxLength: 300 })), picture(_s("Photograph it"), code));
  }

  function row(fault, has, found, again) {
    const box = make("input", { type: "checkbox", name: `found-${fault.code}`, id: `id_found-${fault.code}`, checked: Boolean(found) });
    const made = make("div", { className: "fault" }, make("label", { className: "choice" }, box, make("span", { className: "words" },
      make("b", {}, fault.words), ...(found ? [make("small", {}, _s("found before, not mended yet"))] : []))));
    const open = () => { if (box.checked && !made.querySelector(".fault-more")) made.append(more(fault, has, found)); };
    box.onchange = open;
    if (again.includes(box.name)) box.checked = true;
    open();
    return made;
  }

  /* What the check leaves the horn with: for the pages here, until the site says it. */
  function leaves(form, asked, id) {
    const value = (name) => form.elements[name]?.value ?? "";
    const found = asked.filter(({ code }) => form.elements[`found-${code}`].checked).map(({ code, severity }) => [
      code, value(`severity-${code}`) || severity, [...form.querySelectorAll(`[name="at-${code}"]:checked`)].map((one) => one.value),
      Number(value(`number-${code}`)) || null, value(`measured-${code}`) || null]);
    return { ...window.offlineCheck.graded(kept(), found), found, finish: Number(value("finish_grade")), seen: id };
  }

  function restore(form, fields) {
    for (const [name, file] of fields.filter(([one]) => one.startsWith("picture-"))) {
      const shows = fields.find(([one]) => one === name.replace("picture", "shows"))?.[1] ?? "";
      const place = form.querySelector(`[data-shows="${CSS.escape(shows)}"]`);
      if (place) window.smaller.fill(place, file);
    }
    for (const one of form.elements) {
      const had = fields.filter(([name]) => name === one.name).map(([, value]) => value);
      if (!one.name) continue;
      if (one.type === "checkbox" || one.type === "radio") one.checked = had.includes(one.value);
      else if (had.length) [one.value] = had;
    }
  }

  return async (horn) => {
    const { draft, fields: typed, id } = await drafts(horn);
    const known = new Map(horn.found.map((one) => [one[0], one]));
    const has = kept().asks[horn.asks];
    const again = (typed ?? []).map(([name]) => name);
    const asks = ({ code }) => has.faults.includes(code) || known.has(code);
    const ticked = ({ code }) => known.has(code) || again.includes(`found-${code}`);
    const parts = about().parts.map(({ name, faults }) => [name, faults.filter(asks)]);
    const asked = parts.flatMap(([, faults]) => faults);
    const { finishes, occasions } = kept();
    const finish = finishes.map(([value, words]) => make("label", {}, make("input", { type: "radio", name: "finish_grade", value, required: true, checked: horn.finish === value }), ` ${words}`));
    const rows = (words, faults, how = {}) => make("fieldset", { className: "choices" }, make("legend", how, words), ...faults.map((one) => row(one, has, known.get(one.code), again)));
    const folded = (name, ...inside) => make("details", { className: "fold" }, make("summary", {}, name), ...inside);
    const above = asked.filter(ticked);
    const rest = parts.map(([name, faults]) => [name, faults.filter((one) => !ticked(one))]).filter(([, faults]) => faults.length);
    const wrong = make("p", { className: "wrong-answer", role: "alert", hidden: true });
    const others = folded(_s("Occasion, notes, picture of the horn"), field(_s("Occasion"), choose("occasion", occasions, horn.occasion)),
      field(_s("Notes"), make("textarea", { name: "notes", id: "id_notes", rows: 3, maxLength: 2000 })),
      picture(_s("Photograph the horn")), make("p", { className: "help" }, _s("The horn only: no pupils. Made smaller here before it is kept.")));
    others.open = Boolean(typed);
    const form = make("form", { className: "check" },
      make("p", {}, _s("Open the part and tick what is wrong; leave the rest."), " ", ...(known.size ? [make("b", {}, _s("What was found before comes ticked: untick what is gone."))] : [])),
      ...(above.length ? [rows(typed ? _s("Ticked") : _s("Found before"), above)] : []),
      ...rest.map(([name, faults]) => folded(name, rows(name, faults, { className: "visually-hidden" }))),
      make("h2", {}, _s("The whole horn")),
      make("fieldset", { className: "places" }, make("legend", {}, _s("Finish: looks only, it never stops a loan")), ...finish),
      others, wrong,
      make("p", { className: "buttons" }, make("button", { className: "button main big" }, _s("Save the check"))));
    if (typed) restore(form, typed);
    /* An empty note of a fault that was found before is no note taken away: none was shown. */
    const fields = () => [["seen", String(horn.seen)], ...[...new FormData(form)].filter(([name, value]) => value !== "" || !name.startsWith("note-")),
      ...taken(form).slice(0, PICTURES).flatMap(({ files, dataset: { shows } }, n) => [[`picture-${n + 1}`, files[0]], [`shows-${n + 1}`, shows]])];
    let saved = false; // from then on it is no draft
    form.oninput = () => { if (!saved) draft(fields()); };
    form.onsubmit = async (event) => {
      event.preventDefault();
      await small;
      const more = taken(form).length > PICTURES;
      outbox.say(wrong, more ? _s("A check keeps %(many)s pictures. Take one away, or photograph the horn on its own page.", { many: PICTURES }) : "");
      if (more || saved) return;
      saved = true;
      keep(horn, fields(), () => leaves(form, asked, id), id);
    };
    return [make("h1", {}, _s("Check of %(horn)s", { horn: horn.number })), make("p", { className: "lead" }, horn.kind),
      ...(typed ? [make("p", { className: "box good", role: "status" }, _s("What you typed is back."))] : []),
      make("details", { className: "fold" }, make("summary", {}, _s("Before you start")), ...about().cautions.map((words) => make("p", {}, words))), form];
  };
};
/* How a horn reads with these findings: the worst of them, as the site grades it. */
window.offlineCheck.graded = ({ checked_for: { weighs }, grades }, found) => {
  const grade = Math.max(1, ...found.map(([, severity]) => weighs[severity]));
  return { grade, condition: grades.find(([one]) => one === grade)[1] };
};
