/* From what was observed of a horn to what it is, without a connection: the reasoning of `identify/core/reasoning`, read
 * from the tables of `identify/core/along`, for all that is not heard.
 *
 * `reasoner(tables)` gives { CHECKS, assess, usualNext, oneOf, reasons, headline, doubts, confirmations }. Observations are
 * { answers: {check: answer}, passed: [checks], again: [checks], like: build }, a school's own shares of builds are handed in
 * beside them. A set of checks is a number with a bit for each, in their order. Whatever changes there changes here: the
 * two are held against each other.
 */
"use strict";
window.reasoner = (tables) => {
  const { bounds, every, groups, whole, answers: given, sentences } = tables;
  const CHECKS = Object.keys(tables.checks);
  const ALL = every.group.map((_group, place) => place);
  const WHOLE = ALL.slice(0, whole);
  const [LEAST, LIVE, NOTHING] = [1e-9, 1e-5, 1e-9];
  const bit = Object.fromEntries(CHECKS.map((key, place) => [key, 1 << place]));
  const keysOf = (set) => CHECKS.filter((key) => set & bit[key]);
  const many = (set) => keysOf(set).length;
  const total = (numbers) => numbers.reduce((sum, one) => sum + one, 0);
  const whereBest = (some, worth) => some.reduce((best, one) => (best === null || worth(one) > worth(best) ? one : best), null);
  const tableOf = (key, note) => given[key === "step_down" && note ? `${key}/${note}` : key];
  const at = (key, answer) => tables.checks[key].answers.indexOf(answer);

  /* A table's row: the chances after one look, the sure ones (null: the check means nothing), and those after two. */
  const rowOf = (key, note, place) => { const table = tableOf(key, note); return table.rows[table.of[place]]; };
  function twice([once, sure]) {
    if (!sure) return once;
    const wrong = total(once.filter((_chance, which) => !sure[which]));
    return once.map((chance, which) =>
      sure[which] ? chance + (1 - tables.repeated) * wrong * sure[which] : tables.repeated * chance);
  }
  const wrongIn = (key, note, answer) => {
    const [which, { of, rows }] = [at(key, answer), tableOf(key, note)];
    const wrong = rows.map(([, sure]) => Boolean(sure) && !sure[which]);
    return (place) => wrong[of[place]];
  };

  function priors(shares, like) {
    const usual = ALL.map((place) => (shares[every.code[place]] ?? 0) * every.weight[place]);
    const alike = like ? usual.map((chance, place) => (every.code[place] === like ? chance : 0)) : [];
    const of = total(alike);
    if (!of) return usual;
    const more = Math.min((1 - tables.unlike) / (tables.unlike * of), bounds.most_alike);
    const leaning = usual.map((chance, place) => chance + more * alike[place]);
    const sum = total(leaning);
    return leaning.map((chance) => chance / sum);
  }

  /* What each hypothesis weighs after the observations, whoever made them, where the mistakes it needs are so many times as
   * common as is assumed, and the others so much rarer. */
  function weighed(seen, before, times) {
    const note = seen.answers.test_note;
    const given = Object.entries(seen.answers).map(([key, answer]) => {
      const which = at(key, answer), { of, rows } = tableOf(key, note);
      const usual = rows.map((row) => (seen.again.includes(key) ? twice(row) : row[0])[which]);
      return { of, usual, right: rows.map(([once, sure]) => (sure || once)[which]) };
    });
    const all = new Float64Array(before.length);
    for (const [person, share] of tables.persons) {
      const mine = new Float64Array(before);
      for (const { of, usual, right } of given) {
        const factors = usual.map((chance, row) =>
          Math.max(right[row] + person * (chance > right[row] ? times : 1 / times) * (chance - right[row]), LEAST));
        for (let place = 0; place < mine.length; place += 1) mine[place] *= factors[of[place]];
      }
      for (let place = 0; place < mine.length; place += 1) all[place] += share * mine[place];
    }
    return all;
  }
  function posterior(seen, before) {
    const weights = weighed(seen, before, 1);
    const sum = total(weights);
    return weights.map((weight) => weight / sum);
  }
  const bandOf = (seen, before) => [weighed(seen, before, 1 / bounds.band), weighed(seen, before, bounds.band)];
  /* The least and the greatest chance of each group, all others weighing as much or as little as they may. */
  function between(band, names) {
    if (!band) return () => [];
    const [[least, most], [low, high]] = [band.map((weights) => summed(weights, names)), band.map(total)];
    return (name) => [least(name) / (least(name) + high - most(name)), most(name) / (most(name) + low - least(name))];
  }

  /* Under each hypothesis, the checks whose answer would have to be a mistake. */
  function slips(seen) {
    const missed = new Array(ALL.length).fill(0);
    const note = seen.answers.test_note;
    const slipped = note ? wrongIn("test_note", null, note) : () => false;
    for (const [key, answer] of Object.entries(seen.answers)) {
      const wrong = wrongIn(key, note, answer);
      const unmoved = key === "step_down" && note ? wrongIn(key, null, answer) : wrong;
      for (const place of ALL) if ((slipped(place) ? unmoved : wrong)(place)) missed[place] |= bit[key];
    }
    return missed;
  }

  /* What the hypotheses of each name, a group or whether they are meant, weigh together. */
  function summed(weights, names) {
    const sums = new Float64Array(groups.length);
    for (let place = 0; place < weights.length; place += 1) sums[Number(names[place])] += weights[place];
    return (name) => sums[Number(name)];
  }

  /* How many bits a check is expected to tell over what is known. A phone reckons this for each check at each step, so it is
   * written for speed: sums by number, no lists made. */
  const sums = new Float64Array(Math.max(...every.apart) + 1);
  function entropyOfSums(many, chance) {
    let bits = 0;
    for (let name = 0; name < many; name += 1) {
      const share = sums[name] / chance;
      if (share > 0) bits -= share * Math.log2(share);
    }
    return bits;
  }
  function gain(key, chances, note, states, live) {
    const [names, many] = states ? [every.apart, sums.length] : [every.group, groups.length];
    const { of, rows } = tableOf(key, note);
    sums.fill(0);
    for (const place of live) sums[names[place]] += chances[place];
    let told = entropyOfSums(many, 1);
    for (let which = 0; which < tables.checks[key].answers.length; which += 1) {
      sums.fill(0);
      for (const place of live) sums[names[place]] += chances[place] * rows[of[place]][0][which];
      let chance = 0;
      for (let name = 0; name < many; name += 1) chance += sums[name];
      if (chance > NOTHING) told -= chance * entropyOfSums(many, chance);
    }
    return told;
  }

  function worthAsking(seen, chances, states) {
    const of = (flags) => total(ALL.filter((place) => flags[place]).map((place) => chances[place]));
    const [lever, sets, bare] = [of(every.levers), of(every.many_sets), of(every.without_valves)];
    const asked = new Set([...Object.keys(seen.answers), ...seen.passed]);
    const idle = (key) => asked.has(key) ||
      (["test_note_thumb", "thumb"].includes(key) && lever < 0.1) ||
      (["second_set", "shared_row"].includes(key) && sets < 0.1) ||
      (key === "each_finger" && bare > 0.9) || (key === "crook" && bare < 0.1) ||
      (["test_note_thumb", "step_down"].includes(key) && seen.passed.includes("test_note"));
    // Hypotheses that are out of the running change nothing that can be seen, and cost time.
    const live = ALL.filter((place) => chances[place] > LIVE);
    const gains = {};
    for (const key of CHECKS) if (!idle(key)) gains[key] = gain(key, chances, seen.answers.test_note, states, live);
    if ((gains.bell ?? 0) >= bounds.least_gain && of(every.under_a_finger) >= bounds.under_a_finger) {
      delete gains.test_note_thumb;
      delete gains.thumb;
    }
    return gains;
  }
  const mostOf = (gains) => whereBest(Object.keys(gains), (key) => gains[key]);
  function nextCheck(gains) {
    const best = Math.max(0, ...Object.values(gains));
    if (best < bounds.least_gain) return null;
    const least = Math.max(bounds.keep_order * best, bounds.least_gain);
    return tables.order.find((key) => (gains[key] ?? 0) >= least) ?? mostOf(gains);
  }

  /* Candidates by group, the likeliest first, each shown by its likeliest form, one that fits before others. */
  function rank(chances, band, before, missed) {
    const best = new Map();
    for (const place of WHOLE) {
      const other = best.get(every.group[place]) ?? place;
      const [fits, otherFits] = [!missed[place], !missed[other]];
      if (fits === otherFits ? chances[place] >= chances[other] : fits) best.set(every.group[place], place);
    }
    const [by, was, bound] = [summed(chances, every.group), summed(before, every.group), between(band, every.group)];
    const ranked = [...best].map(([group, form]) => {
      const [least, most] = bound(group);
      return {
        group, form, ...groups[group], probability: by(group), least, most, before: was(group),
        against: keysOf(missed[form]), states: [], share: 1, shown_by: [],
      };
    });
    // Equal chances in the order of the catalogue, however the numbers were added up.
    const near = ({ probability }) => Math.round(probability * 1e12);
    ranked.sort((one, other) => near(other) - near(one));
    if (ranked[0].against.length) {
      const so = broken(chances, band, missed, ranked[0]);
      if (so && so.share >= bounds.broken_at) ranked[0] = so;
    }
    return ranked;
  }
  function broken(chances, band, missed, one) {
    const fitting = ALL.filter((place) => place >= whole && every.group[place] === one.group && !missed[place]);
    if (!fitting.length) return null;
    const [chance, states] = [new Map(), new Map()];
    for (const place of fitting) {
      const state = tables.states[every.state[place]];
      states.set(state.code, state);
      chance.set(state.code, (chance.get(state.code) ?? 0) + chances[place]);
    }
    const worth = bounds.worth_mending * total([...chance.values()]);
    const named = [...chance.keys()].filter((code) => chance.get(code) >= worth);
    named.sort((a, b) => chance.get(b) - chance.get(a));
    const so = new Set(fitting.filter((place) => named.includes(tables.states[every.state[place]].code)));
    const [least, most] = between(band, ALL.map((place) => so.has(place)))(true);
    return {
      ...one, least, most, against: [], shown_by: one.against, form: whereBest(fitting, (place) => chances[place]),
      states: named.map((code) => states.get(code)),
      share: total(named.map((code) => chance.get(code))) / one.probability,
    };
  }
  const asSaid = (one) => one.probability * one.share;
  const fits = (one) => !one.against.length;
  const first = (keys, others) => [...new Set([...keys, ...others])];

  /* Observations in the order of the checks, so that equal answers are weighed alike in whatever order they came. */
  function ordered({ answers = {}, passed = [], again = [], like = "" }) {
    const mine = CHECKS.filter((key) => key in answers);
    return {
      answers: Object.fromEntries(mine.map((key) => [key, answers[key]])),
      passed: CHECKS.filter((key) => passed.includes(key) && !(key in answers)),
      again: mine.filter((key) => again.includes(key)),
      like: like in tables.shares ? like : "",
    };
  }
  const without = (seen, keys) => ordered({
    ...seen, answers: Object.fromEntries(Object.entries(seen.answers).filter(([key]) => !keys.includes(key))),
  });

  function smallestDoubts(seen, before, leaning, chances, missed) {
    const fewest = Math.min(...WHOLE.map((place) => many(missed[place])));
    if (!fewest) return [];
    const blame = new Map();
    for (const place of WHOLE) {
      if (many(missed[place]) === fewest) blame.set(missed[place], (blame.get(missed[place]) ?? 0) + chances[place]);
    }
    const sum = total([...blame.values()]) || 1;
    const named = (set) => keysOf(set).sort().join(" ");
    const sets = [...blame].sort(([a, x], [b, y]) => y - x || (named(a) < named(b) ? -1 : 1));
    const doubts = [];
    for (const [set, chance] of sets) {
      if (doubts.length && chance < bounds.also_doubted * doubts[0].likelihood * sum) break;
      const keys = keysOf(set);
      const left = without(seen, keys);
      // Nobody is told within what bounds these are.
      const then = rank(posterior(left, leaning), null, before, slips(left));
      const settled = fits(then[0]) && asSaid(then[0]) >= bounds.settled_at_last;
      doubts.push({ keys, likelihood: chance / sum, then: then.slice(0, 3), then_settled: settled });
    }
    return doubts;
  }

  function overlap(one, other, key) {
    const [[, mine], [, theirs]] = [rowOf(key, null, one), rowOf(key, null, other)];
    return mine && theirs ? total(mine.map((share, which) => Math.min(share, theirs[which]))) : 1;
  }
  function toConfirm(candidates, seen) {
    const [leading, ...rivals] = candidates;
    for (const rival of rivals) {
      if (rival.probability < leading.probability / 1000) break;
      const keys = rival.against.filter((key) => !seen.again.includes(key));
      if (keys.length) return keys;
      if (fits(rival)) {
        const left = CHECKS.filter((key) => (key in seen.answers || seen.passed.includes(key)) && !seen.again.includes(key));
        const same = Object.fromEntries(left.map((key) => [key, overlap(leading.form, rival.form, key)]));
        const least = whereBest(left, (key) => -same[key]);
        if (least && same[least] < bounds.same_answers) return [least];
      }
    }
    return [];
  }
  function oneAnswerAway(candidates, seen, least) {
    const rivals = candidates.slice(1).filter((one) => one.probability >= least && one.against.length === 1);
    return first(rivals.flatMap((one) => one.against).filter((key) => !seen.again.includes(key)), []);
  }

  /* The check that would show another horn with a fault, of this chance at least, that answers all alike so far. */
  function hiddenFault(seen, chances, missed, leading, least) {
    const others = ALL.slice(whole).filter((place) => chances[place] >= least && every.group[place] !== leading.group && !missed[place]);
    const left = tables.shows.filter((key) => !(key in seen.answers) && !seen.passed.includes(key));
    for (const place of others.sort((one, other) => chances[other] - chances[one])) {
      const same = Object.fromEntries(left.map((key) => [key, overlap(leading.form, place, key)]));
      const check = whereBest(left, (key) => -same[key]);
      if (check && same[check] < bounds.same_answers) return check;
    }
    return null;
  }

  /* Checks not asked that would show another horn that answers all alike so far, each for the first it shows. */
  function looksAlike([leading, ...rivals], seen) {
    const left = CHECKS.filter((key) => !(key in seen.answers) && !seen.passed.includes(key));
    const found = [];
    for (const rival of rivals.filter(fits)) {
      const same = Object.fromEntries(left.map((key) => [key, overlap(leading.form, rival.form, key)]));
      const check = whereBest(left, (key) => -same[key]);
      if (check && same[check] < bounds.same_answers && found.every((key) => same[key] >= bounds.same_answers)) found.push(check);
    }
    return found;
  }

  function assess(observations, shares = tables.shares) {
    const seen = ordered(observations);
    const before = priors(shares), leaning = seen.like ? priors(shares, seen.like) : before;
    const [chances, band, missed] = [posterior(seen, leaning), bandOf(seen, leaning), slips(seen)];
    const candidates = rank(chances, band, before, missed);
    const [leading] = candidates;
    const doubts = leading.states.length ? [] : smallestDoubts(seen, before, leaning, chances, missed);
    const { valves, slide_sets: sets } = seen.answers;
    const counted = valves !== undefined && sets !== undefined;
    const impossible = counted && !tables.counts.some(([a, b]) => a === valves && b === sets);
    const indistinct = ({ group }) => tables.indistinct.some((pair) => pair.includes(group) && pair.includes(leading.group));
    const twins = candidates.slice(1).filter((one) => one.probability >= bounds.still_possible && indistinct(one));
    const answered = Object.keys(seen.answers).length;
    const several = answered >= bounds.fewest_answers;
    const sure = fits(leading) && asSaid(leading) >= bounds.settled_at && several;
    const gains = sure ? {} : worthAsking(seen, chances, Boolean(doubts.length || leading.states.length));
    let coming = nextCheck(gains);
    if (coming === null && answered && !several) coming = mostOf(gains);
    if (sure && !(doubts.length || leading.states.length)) coming = hiddenFault(seen, chances, missed, leading, bounds.worth_naming);
    let doubt = first(doubts.flatMap((one) => one.keys), impossible ? ["valves", "slide_sets"] : []);
    doubt = doubt.filter((key) => !seen.again.includes(key));
    let confirm = sure && !doubts.length ? oneAnswerAway(candidates, seen, bounds.worth_naming) : [];
    const seenOnce = leading.shown_by.filter((key) => !seen.again.includes(key));
    if (seenOnce.length && !coming) confirm = first(seenOnce, oneAnswerAway(candidates, seen, bounds.still_possible));
    else if (!(doubts.length || coming || !answered || sure)) {
      confirm = toConfirm(candidates, seen);
      if (!twins.length) doubt = confirm;
    }
    const atLast = fits(leading) && asSaid(leading) >= bounds.settled_at_last && several && !(coming || confirm.length);
    const settled = (atLast || (sure && !coming)) && !doubts.length;
    const alone = settled ? oneAnswerAway(candidates, seen, 0).filter((key) => !confirm.includes(key)) : [];
    const unasked = settled && !leading.states.length ? hiddenFault(seen, chances, missed, leading, 0) : null;
    const clash = Boolean(doubts.length) || impossible;
    const clear = !clash && !(settled || twins.length || coming);
    const likely = clear && fits(leading) && asSaid(leading) >= bounds.likely_at;
    return {
      seen, candidates, leading, settled, likely, twins, doubt, doubts, clash, confirm, impossible, gains, next_check: coming,
      rests_on: alone, unasked,
      alike: settled && !leading.states.length && seen.like ? looksAlike(candidates, seen) : [],
      nothing_observed: !answered, perhaps: doubts.length ? perhapsBroken(chances, band, missed, candidates) : null,
    };
  }
  function perhapsBroken(chances, band, missed, candidates) {
    const worth = candidates.filter((one) => one.probability >= bounds.worth_mending);
    const found = worth.map((one) => broken(chances, band, missed, one));
    return whereBest(found.filter((one) => one && asSaid(one) >= bounds.worth_mending), asSaid);
  }

  function usualNext({ seen, gains, next_check: coming }) {
    const some = Object.fromEntries(Object.entries(gains).filter(([, bits]) => bits >= bounds.least_gain));
    if (seen.like) return "test_note" in some ? "test_note" : mostOf(some) ?? coming;
    return tables.order.find((key) => key in some) ?? coming;
  }

  /* The same sentences as on the site's own pages. */
  function percent(chance) {
    if (chance >= 0.995) return _s("over %(chance)s", { chance: "99 %" });
    return chance < 0.01 ? _s("under %(chance)s", { chance: "1 %" }) : `${Math.round(100 * chance)} %`;
  }
  function betweenWords(least, most) {
    if (percent(least) === percent(most)) return percent(least);
    if (most >= 0.995) return _s("at least %(chance)s", { chance: percent(least) });
    if (least < 0.01) return _s("at most %(chance)s", { chance: percent(most) });
    return _s("%(least)s to %(most)s", { least: Math.round(100 * least), most: percent(most) });
  }
  function oneOf({ words, stands, vowel, states }) {
    const wrong = states.length <= bounds.most_named ? states.map((one) => one.words).join(_s(" or ")) : _s("that is out of order");
    const so = () => (stands ? _s("%(horn)s, %(wrong)s", { horn: words, wrong }) : _s("%(horn)s %(wrong)s", { horn: words, wrong }));
    const horn = states.length ? so() : words;
    return vowel ? _s("an %(horn)s", { horn }) : _s("a %(horn)s", { horn });
  }
  const checksNamed = (keys) => keys.map((key) => tables.checks[key].words).join(_s(" and "));
  /* What one answer says of a hypothesis: whether it speaks for it, and of a whole horn why. */
  function testimony(place, key, answer, { answers: { test_note: note } }) {
    const known = note && rowOf("test_note", null, place)[1]?.[at("test_note", note)] ? note : null;
    const sure = rowOf(key, known, place)[1];
    const { of, rows } = sentences.by[key === "step_down" && known ? `${key}/${known}` : key];
    return {
      check: key, speaks_for: !sure || sure[at(key, answer)] > 0,
      short: place < whole ? sentences.said[rows[of[place]][at(key, answer)]] : "",
    };
  }
  function reasons({ form }, seen) {
    return Object.entries(seen.answers).map(([key, answer]) => {
      const [mine, sound] = [form, every.whole[form]].map((place) => testimony(place, key, answer, seen));
      const same = mine.speaks_for === sound.speaks_for;
      return { ...mine, short: same ? sound.short : _s("%(sentence)s, were the horn whole.", { sentence: sound.short.slice(0, -1) }) };
    });
  }

  function headline(told) {
    if (told.nothing_observed) return _s("Nothing has been observed yet; what follows is only what is common in schools.");
    const { leading } = told, horn = oneOf(leading), chance = betweenWords(leading.least, leading.most);
    if (told.settled) return _s("This is %(horn)s.", { horn });
    if (told.impossible) {
      const { valves, slide_sets: sets } = told.seen.answers;
      return _s("No kind we know has %(valves)s and %(sets)s: count both again.", { valves: tables.counted.valve[valves], sets: tables.counted.set[sets] });
    }
    if (told.clash) return _s("No kind we know fits everything that was observed.");
    if (told.twins.length) {
      return _s("This is either of these, which no check tells apart: %(horns)s.", { horns: [horn, ...told.twins.map(oneOf)].join(_s(" or ")) });
    }
    if (told.likely) return _s("This is likely %(horn)s (%(chance)s), but not settled yet.", { horn, chance });
    if (leading.probability >= 0.5) return _s("This is most likely %(horn)s (%(chance)s), but that is not settled.", { horn, chance });
    return _s("Several horns are still possible.");
  }
  function doubts(told) {
    const sentences = told.doubts.map(({ keys, then, then_settled: sure }) => {
      const said = { checks: checksNamed(keys), horn: oneOf(then[0]) };
      if (keys.length === 1 && sure) return _s("Look again at %(checks)s: without that answer, this horn would be %(horn)s.", said);
      if (keys.length === 1) return _s("Look again at %(checks)s: without that answer, this horn would most likely be %(horn)s.", said);
      if (sure) return _s("Look again at %(checks)s: without those answers, this horn would be %(horn)s.", said);
      return _s("Look again at %(checks)s: without those answers, this horn would most likely be %(horn)s.", said);
    });
    const { doubt, confirm } = told;
    if (!sentences.length && doubt.length && !confirm.length) sentences.push(_s("Look again at %(checks)s.", { checks: checksNamed(doubt) }));
    if (told.perhaps) sentences.push(_s("Or every answer is right, and this is %(horn)s.", { horn: oneOf(told.perhaps) }));
    if (told.clash && !doubt.length) {
      sentences.push(_s("All of that was looked at twice. Ask a repairer: it may be altered, or a build not known here."));
    }
    return sentences;
  }
  function confirmations(told) {
    if (told.clash) return [];
    const shown = told.confirm.filter((key) => told.leading.shown_by.includes(key));
    const asked = told.confirm.filter((key) => !shown.includes(key));
    const differs = (one) => fits(one) || asked.every((key) => one.against.includes(key));
    const rival = asked.length && told.candidates.slice(1).find(differs);
    return [
      ...(shown.length ? [_s("Look once more at %(checks)s: that alone says that something is wrong with it.", { checks: checksNamed(shown) })] : []),
      ...(rival ? [_s("Look once more at %(checks)s: %(horn)s would differ there.", { checks: checksNamed(asked), horn: oneOf(rival) })] : []),
    ];
  }
  return { CHECKS, assess, usualNext, oneOf, reasons, headline, doubts, confirmations };
};
