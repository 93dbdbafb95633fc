// Says below a field with data-most how many characters stand in it. A line end is one, as the server counts.
"use strict";

for (const field of document.querySelectorAll("textarea[data-most]")) {
  const most = Number(field.dataset.most);
  const said = document.createElement("p");
  said.className = "help";
  const count = () => {
    const long = Array.from(field.value.trim()).length;
    const over = long > most ? `, ${(long - most).toLocaleString("en")} too many` : "";
    said.textContent = `${long.toLocaleString("en")} of ${most.toLocaleString("en")} characters${over}.`;
  };
  field.after(said);
  field.addEventListener("input", count);
  count();
}
