// Draws the figures of a procedure from the page's own data. The tables on the page hold the same.
"use strict";
(() => {
  const source = document.getElementById("figures");
  if (!source || !window.Plot) return;
  const data = JSON.parse(source.textContent);
  const words = data.words;
  const number = new Intl.NumberFormat(data.lang, { maximumFractionDigits: 1 });
  const percent = { format: (v) => new Intl.NumberFormat(data.lang, { maximumFractionDigits: 0 }).format(100 * v) + " %" };
  const date = (d) => new Intl.DateTimeFormat(data.lang, { month: "short", year: "numeric" }).format(d);
  const short = (text) => (text.length > 34 ? text.slice(0, 33).trimEnd() + "…" : text);
  const style = { background: "none", color: "inherit", fontSize: "13px", fontFamily: "inherit", overflow: "visible" };
  const wide = (place) => Math.max(560, Math.min(1180, place.clientWidth));
  const gutter = 250;

  const drawings = {
    steps(place) {
      const name = new Map(data.steps.map((s) => [s.name, short(s.name)]));
      const dots = (which) => data.steps.flatMap((s) => s[which].map((m) => ({ name: s.name, m })));
      const ends = data.steps.flatMap((s) => [...s.times, ...s.long, s.expected, s.next ? s.next.high_min : 0]).sort(d3.ascending);
      // A few very long times would squeeze all others together: they are drawn at the edge, with their minutes.
      const most = d3.quantile(ends, 0.995) * 1.15, end = ends.at(-1) > 1.5 * most ? most : ends.at(-1);
      const far = d3.groups(dots("long").concat(dots("times")).filter((d) => d.m > end), (d) => d.name)
        .map(([name, all]) => ({ name, text: "→ " + d3.sort(all, (d) => d.m).map((d) => number.format(d.m)).join(", ") }));
      return Plot.plot({
        width: wide(place), height: 60 + 24 * data.steps.length, marginLeft: gutter, marginRight: far.length ? 100 : 20, marginBottom: 40, style,
        x: { label: words.minutes, labelOffset: 36, domain: [0, end], grid: true, tickFormat: (v) => number.format(v), axis: "both" },
        y: { domain: data.steps.map((s) => s.name), label: null, tickSize: 0, tickFormat: (v) => name.get(v) },
        marks: [
          Plot.barX(data.steps.filter((s) => s.next), { y: "name", x1: (s) => s.next.low_min, x2: (s) => Math.min(s.next.high_min, end), fill: "var(--interval)", insetTop: 3, insetBottom: 3 }),
          Plot.dot(dots("times").filter((d) => d.m <= end), { y: "name", x: "m", r: 3, fill: "var(--worked)", fillOpacity: 0.45 }),
          Plot.dot(dots("long").filter((d) => d.m <= end), { y: "name", x: "m", r: 4.5, symbol: "diamond", fill: "var(--over)" }),
          Plot.tickX(data.steps.filter((s) => s.expected), { y: "name", x: "expected", stroke: "var(--soft)", strokeWidth: 2, strokeDasharray: "3 3" }),
          Plot.text(far, { y: "name", x: () => end, text: "text", textAnchor: "start", dx: 6, className: "farkey", fill: "currentColor", fontWeight: 600 }),
          Plot.tickX(data.steps, { y: "name", x: "median", stroke: "var(--ink)", strokeWidth: 2.5 }),
        ],
      });
    },
    shares(place) {
      const steps = data.steps.slice().sort((a, b) => a.rank - b.rank).filter((s) => s.share > 0).slice(0, 25);
      const name = new Map(steps.map((s) => [s.name, short(s.name)]));
      return Plot.plot({
        width: wide(place), height: 70 + 22 * steps.length, marginLeft: gutter, marginRight: 50, marginBottom: 46, style,
        x: { label: words.share, labelOffset: 40, domain: [0, 1], grid: true, tickFormat: (v) => percent.format(v) },
        y: { domain: steps.map((s) => s.name), label: null, tickSize: 0, tickFormat: (v) => name.get(v) },
        marks: [
          Plot.barX(steps, { y: "name", x1: (s) => s.cumulated - s.share, x2: "cumulated", fill: "var(--worked)", insetTop: 2, insetBottom: 2 }),
          Plot.text(steps, { y: "name", x: "cumulated", text: (s) => percent.format(s.cumulated), textAnchor: "start", dx: 6, fill: "var(--soft)" }),
        ],
      });
    },
    trend(place) {
      const runs = data.runs.map((r) => ({ ...r, at: new Date(r.at) }));
      const samples = runs.filter((r) => !r.why), others = runs.filter((r) => r.why);
      const marks = [];
      if (data.next) marks.push(Plot.rectY([data.next], { y1: data.next.low_min / 60, y2: data.next.high_min / 60, x1: d3.min(runs, (r) => r.at), x2: d3.max(runs, (r) => r.at), fill: "var(--interval)" }));
      if (data.book) marks.push(Plot.ruleY([data.book], { stroke: "var(--book)", strokeWidth: 2, strokeDasharray: "6 4" }));
      if (samples.length >= 10) marks.push(Plot.lineY(samples, Plot.windowY({ k: 7, reduce: "median", x: "at", y: "hours", stroke: "var(--ink)", strokeWidth: 1.5 })));
      marks.push(Plot.dot(others, { x: "at", y: "hours", symbol: "times", stroke: "var(--soft)", r: 4 }));
      marks.push(Plot.dot(samples, { x: "at", y: "hours", fill: "var(--worked)", r: 4 }));
      return Plot.plot({
        width: wide(place), height: 300, marginLeft: 50, marginRight: 40, style,
        x: { label: null, type: "time", ticks: 6, tickFormat: date }, y: { label: words.hours, zero: true, grid: true, tickFormat: (v) => number.format(v) }, marks,
      });
    },
    learning(place) {
      const marks = [];
      if (data.learn.some((l) => l.curve)) marks.push(Plot.lineY(data.learn, { x: "n", y: "curve", stroke: "var(--ink)", strokeWidth: 2, strokeDasharray: data.curve ? "none" : "4 4" }));
      marks.push(Plot.dot(data.learn, { x: "n", y: "hours", fill: "var(--worked)", r: 4.5 }));
      if (data.book) marks.push(Plot.ruleY([data.book], { stroke: "var(--book)", strokeWidth: 2, strokeDasharray: "6 4" }));
      return Plot.plot({
        width: wide(place), height: 290, marginLeft: 50, marginBottom: 46, style,
        x: { label: words.run, labelOffset: 40, ticks: Math.min(12, data.learn.length), tickFormat: (v) => (Number.isInteger(v) ? number.format(v) : "") },
        y: { label: words.hours, zero: true, grid: true, tickFormat: (v) => number.format(v) }, marks,
      });
    },
  };

  const draw = () => {
    for (const place of document.querySelectorAll("[data-chart]")) place.replaceChildren(drawings[place.dataset.chart](place));
  };
  draw();
  let wait;
  let width = innerWidth;
  addEventListener("resize", () => {
    if (innerWidth === width) return;
    width = innerWidth;
    cancelAnimationFrame(wait);
    wait = requestAnimationFrame(draw);
  });
})();
