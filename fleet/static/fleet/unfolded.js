// What a phone folds stands open where there is room for it.
"use strict";

if (matchMedia("(min-width: 60rem)").matches) {
  for (const fold of document.querySelectorAll("details.unfolds")) {
    fold.open = true;
  }
}
