// Requirements as a table, key figures as a grid.
import { el } from "./dom.js";
import { plain, withUnit } from "./format.js";
import { verdictCell, verdictLook } from "./verdict.js";

const ORDER = ["violated", "undecided", "not exercised", "satisfied"];
const FIGURES = 6; // before the rest is folded
const ROWS = 8; // of requirements, when all are satisfied; else those that are not come first and the rest is folded

export function requirements(data, run) {
  if (!data.requirements.length) return null;
  const sorted = [...data.requirements].sort((a, b) => ORDER.indexOf(a.verdict) - ORDER.indexOf(b.verdict));
  const row = (entry) => el("tr", { title: entry.must },
    verdictCell(entry.verdict), el("th", { scope: "row" }, entry.name),
    el("td", { class: "amount" }, entry.margin === null ? "" : withUnit(plain(entry.margin), entry.unit)),
    el("td", { class: "amount soft" }, entry.time === null || entry.margin === null ? "" : run.local.word(entry.time / 3600)));
  const heads = ["verdict", "requirement", "least margin", "at"];
  const table = (entries) => el("div", { class: "wide" }, el("table", {},
    el("thead", {}, el("tr", {}, ...heads.map((word) => el("th", { scope: "col" }, word)))), el("tbody", {}, ...entries.map(row))));
  const first = sorted.filter((entry) => entry.verdict !== "satisfied").length || ROWS;
  const more = sorted.slice(first);
  return el("section", { class: "facts requirements" }, el("h2", {}, "Requirements"), table(sorted.slice(0, first)),
    more.length ? el("details", {}, el("summary", {}, `${more.length} more, satisfied`), table(more)) : null,
    el("details", {}, el("summary", {}, "How each is stated"),
      el("dl", { class: "formulas" }, ...sorted.filter((entry) => entry.must)
        .flatMap((entry) => [el("dt", {}, entry.name), el("dd", {}, entry.must)]))));
}

function tile(figure) {
  const { tone, sign } = figure.verdict ? verdictLook(figure.verdict) : {};
  return el("div", { class: "tile" },
    el("dt", {}, figure.text),
    el("dd", {}, withUnit(plain(figure.value), figure.unit),
      tone ? el("span", { class: tone, title: figure.verdict }, ` ${sign}`, el("span", { class: "unseen" }, figure.verdict)) : null,
      figure.note ? el("small", {}, figure.note) : null));
}

export function figures(data) {
  if (!data.figures.length) return null;
  const all = data.figures.map(tile);
  const more = all.slice(FIGURES);
  return el("section", { class: "figures", "aria-label": "Key figures" },
    el("dl", { class: "tiles" }, ...all.slice(0, FIGURES)),
    more.length ? el("details", {}, el("summary", {}, `${more.length} more figures`), el("dl", { class: "tiles" }, ...more)) : null);
}
