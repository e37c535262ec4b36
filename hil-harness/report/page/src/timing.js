// How a run in real time kept to the clock: what was late, percentiles, histograms.
import { el } from "./dom.js";
import { plain } from "./format.js";

const SHARES = ["p50", "p90", "p99", "p99.9", "greatest"];

function bars(spread) {
  const most = Math.max(...spread.histogram.map((bin) => bin.count));
  return el("div", { class: "bars", role: "img", "aria-label": `Histogram: ${spread.meaning}` },
    ...spread.histogram.map((bin) => el("span", {
      style: `height:${(100 * Math.log1p(bin.count)) / Math.log1p(most)}%`,
      title: `${plain(bin.from)} to ${plain(bin.to)} us: ${bin.count}`,
    })));
}

export function timing(data) {
  const t = data.timing;
  if (!t) return null;
  const row = (spread) => el("tr", {}, el("th", { scope: "row" }, spread.meaning),
    ...SHARES.map((share) => el("td", { class: "amount" }, plain(spread[share]))), el("td", {}, bars(spread)));
  return el("section", { class: "facts timing" }, el("h2", {}, "Timing"),
    el("p", {}, `${plain(t.speed)} s of plant in a second of the clock: ${t.ticks} ticks, ${t.overruns} overruns, `
      + `${t.late_answers} late answers, ${t.lost_frames} lost frames, ${plain(1e6 * t.furthest_behind)} us behind at most. `
      + `Scheduling: ${t.scheduling}. Memory: ${t.memory}.`),
    el("div", { class: "wide" }, el("table", {},
      el("thead", {}, el("tr", {}, ...["in us", "half", "90 %", "99 %", "99.9 %", "greatest", "how often (log), by length (log)"]
        .map((word) => el("th", { scope: "col" }, word)))),
      el("tbody", {}, ...t.spreads.filter((spread) => spread.count).map(row)))));
}
