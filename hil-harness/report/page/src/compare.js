// The page that compares two runs: A and B over each other.
import { el } from "./dom.js";
import { duration, plain, signed } from "./format.js";
import { EventFilter } from "./events.js";
import { LocalTime } from "./local-time.js";
import { Panel } from "./panel.js";
import { SignalChooser } from "./signal-chooser.js";
import { assemble } from "./shared.js";
import { Strip } from "./strip.js";
import { verdictCell } from "./verdict.js";
import { View } from "./view.js";

function table(heads, rows) {
  return el("div", { class: "wide" }, el("table", {},
    el("thead", {}, el("tr", {}, ...heads.map((word) => el("th", { scope: "col" }, word)))), el("tbody", {}, ...rows)));
}

function folded(words, heads, rows) {
  return rows.length ? el("details", {}, el("summary", {}, words), table(heads, rows)) : null;
}

const amount = (value) => el("td", { class: "amount" }, value === null || value === "" ? "–" : plain(value));
const gap = (a, b) => el("td", { class: "amount" }, typeof a === "number" && typeof b === "number" ? signed(b - a) : "");
const units = (unit) => el("td", { class: "soft" }, unit);

function runs(data) {
  const row = (letter, run) => el("tr", {}, el("th", { scope: "row" }, el("b", {}, letter), ` ${run.name}`),
    ...[run.law, run.plant, run.seed, run.end === null ? "" : duration(run.end / 3600), run.ended, run.version]
      .map((text) => el("td", {}, text || "–")));
  return table(["run", "law", "plant", "seed", "length", "end", "version"], [row("A", data.a), row("B", data.b)]);
}

function sentence(data) {
  if (!data.requirements.length) return el("p", { class: "sentence" }, "No requirement was checked.");
  if (!data.lost.length) return el("p", { class: "sentence good" }, "✓ No requirement that A satisfies is violated in B.");
  const words = data.lost.length === 1 ? "One requirement that A satisfies is violated in B"
    : `${data.lost.length} requirements that A satisfies are violated in B`;
  return el("p", { class: "sentence bad" }, `✕ ${words}: ${data.lost.join("; ")}.`);
}

function requirements(data) {
  if (!data.requirements.length) return null;
  const row = (entry) => el("tr", {}, el("th", { scope: "row" }, entry.name),
    entry.a ? verdictCell(entry.a) : el("td", {}, "absent"), entry.b ? verdictCell(entry.b) : el("td", {}, "absent"),
    amount(entry.marginA), amount(entry.marginB), gap(entry.marginA, entry.marginB), units(entry.unit));
  const heads = ["requirement", "A", "B", "margin A", "margin B", "B − A", "unit"];
  const changed = data.requirements.filter((entry) => entry.a !== entry.b);
  const same = data.requirements.filter((entry) => entry.a === entry.b);
  return el("section", { class: "facts" }, el("h2", {}, "Verdicts"),
    changed.length ? table(heads, changed.map(row)) : el("p", { class: "soft" }, "No verdict changed."),
    folded(`${same.length} with the same verdict`, heads, same.map(row)));
}

function figures(data) {
  if (!data.figures.length) return null;
  const row = (entry) => el("tr", {}, el("th", { scope: "row" }, entry.text), amount(entry.a), amount(entry.b),
    gap(entry.a, entry.b), units(entry.unit));
  return el("section", { class: "facts" }, el("h2", {}, "Key figures"), table(["figure", "A", "B", "B − A", "unit"], data.figures.map(row)));
}

function events(data, local) {
  const at = (seconds) => el("td", { class: "amount" }, seconds === null ? "–" : local.word(seconds / 3600));
  const row = (event) => el("tr", {}, el("td", { class: "soft" }, event.kind), el("th", { scope: "row" }, event.text), at(event.a), at(event.b));
  const heads = ["kind", "event", "A", "B"];
  const shown = 8;
  return el("section", { class: "facts" }, el("h2", {}, "Events that differ"),
    data.events.length ? table(heads, data.events.slice(0, shown).map(row)) : el("p", { class: "soft" }, "None."),
    folded(`${data.events.length - shown} more`, heads, data.events.slice(shown).map(row)),
    el("p", { class: "soft" }, `${data.eventsAlike} events are the same in both.`));
}

function prepare(data) {
  const hours = data.time.map((seconds) => seconds / 3600);
  return { hours, filter: new EventFilter([], []), local: new LocalTime(data.localTime),
    view: new View(hours[0], Math.max(hours[hours.length - 1], hours[0] + 1e-6)),
    daylight: data.daylight.map(({ kind, from, to }) => ({ kind, from: from / 3600, to: to / 3600 })) };
}

function build() {
  const data = JSON.parse(document.getElementById("data").textContent);
  const run = data.time ? prepare(data) : null;
  const local = run ? run.local : new LocalTime(null);
  const root = document.getElementById("report");
  root.append(el("header", {}, el("h1", {}, data.title), sentence(data), runs(data),
    data.notes.length ? el("ul", { class: "notes" }, ...data.notes.map((note) => el("li", {}, note))) : null),
  el("div", { class: "findings two" }, el("div", {}, requirements(data) ?? "", events(data, local)), figures(data) ?? ""));
  if (!run) return;
  const strip = new Strip(run);
  const chooser = new SignalChooser(data, run);
  const panels = data.panels.map((panel, i) => new Panel(panel, i + 1, run));
  root.append(strip.element, chooser.element, el("h2", { class: "section" }, "Charts"), ...panels.map((panel) => panel.element),
    el("footer", {}, el("p", {}, "Solid: A, dashed grey: B. Both are drawn reduced, with their peaks kept; all values are in the traces.")));
  assemble(run, [strip, chooser, ...panels]);
}

addEventListener("error", (event) => { document.documentElement.dataset.error = event.message; });
build();
