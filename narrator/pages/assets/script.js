// Keeps the glance page as it is now. Without script the page shows what it was when it was opened.
"use strict";
const glance = document.getElementById("glance");
if (glance) {
  const stream = new EventSource(glance.dataset.stream);
  stream.addEventListener("glance", (e) => { glance.innerHTML = e.data; });
}
