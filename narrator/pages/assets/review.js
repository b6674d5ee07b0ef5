// What the review pages do beyond reading: the button that prints. Everything else works without script.
"use strict";
const print = document.getElementById("print");
if (print) {
  print.hidden = false;
  print.addEventListener("click", () => window.print());
}

// A remark of the checker leads to its line.
const text = document.getElementById("text");
for (const link of document.querySelectorAll("[data-line]")) {
  link.addEventListener("click", (e) => {
    e.preventDefault();
    const lines = text.value.split("\n");
    const from = lines.slice(0, link.dataset.line - 1).join("\n").length + (link.dataset.line > 1 ? 1 : 0);
    text.focus();
    text.setSelectionRange(from, from + (lines[link.dataset.line - 1] || "").length);
    const gutter = document.querySelectorAll(".gutter span")[link.dataset.line - 1];
    if (gutter) gutter.scrollIntoView({ block: "center" });
  });
}

// Lines that are added while writing get their numbers; what was not saved is not lost by a slip.
if (text) {
  const gutter = document.querySelector(".gutter");
  let dirty = false;
  text.addEventListener("input", () => {
    dirty = true;
    const want = text.value.split("\n").length;
    while (gutter.children.length < want) {
      const line = document.createElement("span");
      line.textContent = gutter.children.length + 1;
      gutter.append(line, "\n");
    }
    while (gutter.children.length > want) {
      gutter.lastElementChild.remove();
      gutter.lastChild.remove();
    }
    text.rows = want + 2;
  });
  text.form.addEventListener("submit", () => { dirty = false; });
  addEventListener("beforeunload", (e) => { if (dirty) e.preventDefault(); });
}
