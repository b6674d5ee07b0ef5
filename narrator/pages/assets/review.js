// What the review pages do beyond reading: the button that prints. Everything else works without script.
"use strict";
const print = document.getElementById("print");
if (print) {
  print.hidden = false;
  print.addEventListener("click", () => window.print());
}
