/* The horns as this device knows them: those that are kept, with what was done to them here since, and those that were put on record
 * here and have no number yet.
 *
 * An entry of the outbox says with `about` which horn it is about and with `leaves` how that horn is afterwards, with `makes` which
 * new horn it makes. What the site refused changed nothing. What is about a horn without a number goes `after` the entry that makes it.
 */
"use strict";
window.offlineHorns = {
  /* The places to choose from, and none. */
  places({ places }, none) {
    const option = (value, words) => outbox.make("option", { value }, words);
    return outbox.make("select", { name: "place", id: "place" }, option("", none), ...places.map(({ id, name }) => option(id, name)));
  },

  known({ horns }, entries) {
    const found = new Map(horns.map((one) => [String(one.id), { ...one }]));
    for (const { key, makes, about, leaves, state } of entries) {
      if (state !== "waiting") continue;
      if (makes) found.set(makes.id, { ...makes, after: key });
      const horn = found.get(String(about));
      if (horn) Object.assign(horn, leaves);
    }
    return [...found.values()];
  },

  /* A horn that is on record once the site has it. Until then it is called new horn 1, 2 … */
  fresh({ kinds_ask: asks }, entries, id, { code, words, place }) {
    const names = entries.flatMap(({ makes }) => (makes ? [makes.called] : []));
    const called = Math.max(0, ...names) + 1;
    return {
      id: `new-${id}`, called, number: _s("new horn %(number)s", { number: called }), label: "", build: code, kind: words, place: place.name, place_id: place.id,
      out: false, where: _s("waits for its number"), condition: _s("never looked over"), grade: null, seen: 0, finish: null,
      occasion: "other", found: [], asks: asks[code] ?? asks[""],
    };
  },
};
