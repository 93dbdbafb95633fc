// Says below a field with data-most how many characters stand in it, in its words. A line end is one, as the server
// counts.
"use strict";

for (const field of document.querySelectorAll("textarea[data-most]")) {
  const most = Number(field.dataset.most);
  const said = document.createElement("p");
  said.className = "help";
  const count = () => {
    const long = Array.from(field.value.trim()).length;
    const told = { long, most, over: long - most };
    const words = long > most ? field.dataset.tooMany : field.dataset.counted;
    const spoken = document.documentElement.lang;
    said.textContent = words.replace(/%\((\w+)\)s/g, (_, name) => told[name].toLocaleString(spoken));
  };
  field.after(said);
  field.addEventListener("input", count);
  count();
}
