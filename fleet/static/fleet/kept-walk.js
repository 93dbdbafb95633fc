/* A walk that is left before its end is kept in the outbox, for Today to offer it; one that is put on record is let go.
 *
 * [data-kept-walk] on a page of a walk is its address, data-name what the list calls it; without an address it has just begun.
 * One walk is one entry, however many pages it has: its key goes along in the tab.
 */
"use strict";
(() => {
  const PLACE = "walk";
  const { keptWalk: path, name } = document.querySelector("[data-kept-walk]").dataset;
  const record = document.querySelector("form[data-ends-walk]");
  if (!outbox.by) return;
  if (!path) { sessionStorage.removeItem(PLACE); return; }
  const key = sessionStorage.getItem(PLACE) || `${outbox.by} walk ${outbox.newId()}`;
  sessionStorage.setItem(PLACE, key);
  const until = Date.now() + outbox.DRAFT_DAYS * 86400000;
  const kept = outbox.put({ key, kind: "walk", path, name, state: "draft", until });
  let sent = false;
  record?.addEventListener("submit", async (event) => {
    if (sent) return;
    event.preventDefault();
    const { submitter } = event;
    await kept;
    await outbox.remove({ key });
    sent = true;
    sessionStorage.removeItem(PLACE);
    record.requestSubmit(submitter);
  });
})();
