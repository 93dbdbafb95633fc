/* What scripts say, in the reader's language. A sentence is marked where it stands, by the names that Python has for it: `_` where
 * families read it too, `_s` where staff do, `_s_many` for a number of things. The page hands along with each script what its
 * sentences are in another language (`scripts.py` of fleet/ground/languages); placeholders are filled in here: %(name)s.
 */
"use strict";
(() => {
  let known;
  const lookUp = (sentence) => {
    known ??= Object.assign({}, ...[...document.querySelectorAll("script[id^='words-']")].map((one) => JSON.parse(one.textContent)));
    return known[sentence];
  };
  const filled = (words, told) => words.replace(/%\((\w+)\)s/g, (_placeholder, name) => told[name]);
  self._ = self._s = (sentence, told = {}) => filled(lookUp(sentence) ?? sentence, told);
  // The languages of staff have two forms of the plural, one of them for one.
  self._s_many = (one, many, count, told = {}) => filled((lookUp(one) ?? [one, many])[count === 1 ? 0 : 1], { count, ...told });
  const { lang } = document.documentElement;
  self.spoken = lang === "en" ? "en-GB" : lang;
})();
