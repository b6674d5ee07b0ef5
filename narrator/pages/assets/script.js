// Keeps the glance page as it is now. Without script the page shows what it was when it was opened.
"use strict";

const glance = document.getElementById("glance");
if (glance) watch(glance, document.getElementById("stale"));

function watch(page, notice) {
  let drawn = performance.now(), alive = drawn, program = "";

  const show = () => {
    drawn = performance.now();
    fit(page);
  };

  const connect = () => {
    const stream = new EventSource(page.dataset.stream);
    stream.addEventListener("glance", (e) => {
      alive = performance.now();
      page.innerHTML = e.data;
      show();
    });
    stream.addEventListener("alive", () => { alive = performance.now(); });
    stream.addEventListener("program", (e) => {
      if (program && program !== e.data) location.reload(); // another run of the program may have other pages
      program = e.data;
    });
    stream.onerror = () => { // the browser tries again by itself, unless the answer was none of ours
      if (stream.readyState === EventSource.CLOSED) setTimeout(connect, 2000);
    };
  };

  const tick = () => {
    const now = performance.now(), stale = now - alive > Number(page.dataset.quiet); // ms without a sign of life: two beats and a little
    for (const time of stale ? [] : page.querySelectorAll("time[data-ms]")) {
      const text = duration(Number(time.dataset.ms) + Number(time.dataset.rate) * (now - drawn));
      if (time.textContent !== text) time.textContent = text;
    }
    if (stale) notice.querySelector("span").textContent = duration(now - alive);
    if (notice.hidden === stale) {
      notice.hidden = !stale;
      fit(page);
    }
  };

  show();
  connect();
  setInterval(tick, 250);
  addEventListener("resize", () => fit(page));
}

// duration writes milliseconds as 4:05 or 1:04:05, as the server does.
function duration(ms) {
  const n = Math.floor(Math.abs(ms) / 1000), two = (v) => String(v).padStart(2, "0");
  return n < 3600 ? `${Math.floor(n / 60)}:${two(n % 60)}` : `${Math.floor(n / 3600)}:${two(Math.floor(n / 60) % 60)}:${two(n % 60)}`;
}

// fit gives words the largest letters, between the two sizes that they name, with which they fit into their place. Words that do not
// fit with the smallest are hidden where something larger says it too. Words below the stage leave the stage its room.
function fit(page) {
  const whole = () => [...page.querySelectorAll(".stage > .words, .stage > .torque")].every((e) => e.scrollHeight <= e.clientHeight + 1);
  for (const words of page.querySelectorAll("[data-fit]")) { // what comes first is the largest
    words.style.fontSize = "";
    words.hidden = words.classList.contains("say");
  }
  for (const words of page.querySelectorAll("[data-fit]")) {
    const [low, high] = words.dataset.fit.split(" ").map(Number), place = words.parentElement;
    const fits = (size) => {
      words.style.fontSize = `calc(${size} * var(--u))`;
      return words.scrollWidth <= words.clientWidth + 1 && place.scrollHeight <= place.clientHeight + 1 && whole()
        && (!words.classList.contains("left") || words.scrollHeight <= words.clientHeight + 1); // no line of it is cut off
    };
    words.hidden = false;
    let size = high;
    for (const broken of [false, true]) { // a word is broken only where it is too long for the smallest
      words.classList.toggle("broken", broken);
      for (size = high; size > low && !fits(size); ) size = Math.max(low, size - 0.4);
      if (fits(size)) break;
    }
    if (!fits(size) && words.classList.contains("say")) words.hidden = true;
  }
}
