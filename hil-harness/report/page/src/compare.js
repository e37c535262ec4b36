// The page that compares two runs: A and B over each other.
import { el } from "./dom.js";
import { duration, plain, signed } from "./format.js";
import { EventFilter } from "./events.js";
import { LocalTime } from "./local-time.js";
import { Panel } from "./panel.js";
import { SignalChooser } from "./signal-chooser.js";
import { assemble } from "./shared.js";
import { Strip } from "./strip.js";
import { verdictCell, verdictLook } from "./verdict.js";
import { View } from "./view.js";

function table(heads, rows) {
  return el("div", { class: "wide" }, el("table", {},
    el("thead", {}, el("tr", {}, ...heads.map((word) => el("th", { scope: "col" }, word)))), el("tbody", {}, ...rows)));
}

function folded(words, heads, rows) {
  return rows.length ? el("details", {}, el("summary", {}, words), table(heads, rows)) : null;
}

/** What changed in full view, the rest folded. */
function part(title, heads, entries, row, [none, rest]) {
  const shown = entries.filter((entry) => entry.shown);
  const others = entries.filter((entry) => !entry.shown);
  return el("section", { class: "facts" }, el("h2", {}, title),
    shown.length ? table(heads, shown.map(row)) : el("p", { class: "soft" }, none),
    folded(`${others.length} ${rest}`, heads, others.map(row)));
}

const amount = (value) => el("td", { class: "amount" }, value === null || value === "" ? "–" : plain(value));
const gap = (a, b) => el("td", { class: "amount" }, typeof a === "number" && typeof b === "number" ? signed(b - a) : "");
const units = (unit) => el("td", { class: "soft" }, unit);

/** What is known of the two runs; a column that neither fills is left out. */
function runs(data) {
  const facts = (run) => [run.law, run.plant, run.seed, run.end === null ? "" : duration(run.end / 3600), run.ended, run.version];
  const [a, b] = [facts(data.a), facts(data.b)];
  const known = (_, i) => a[i] || b[i];
  const row = (letter, run, words) => el("tr", {}, el("th", { scope: "row" }, el("b", {}, letter), ` ${run.name}`),
    ...words.filter(known).map((text) => el("td", {}, text || "–")));
  return table(["run", ...["law", "plant", "seed", "length", "end", "version"].filter(known)],
    [row("A", data.a, a), row("B", data.b, b)]);
}

function sentence({ finding: { tone, text } }) {
  return el("p", { class: `sentence ${tone}` }, tone ? `${verdictLook(tone).sign} ${text}` : text);
}

function requirements(data) {
  if (!data.requirements.length) return null;
  const row = (entry) => el("tr", {}, el("th", { scope: "row" }, entry.name),
    entry.a ? verdictCell(entry.a) : el("td", {}, "absent"), entry.b ? verdictCell(entry.b) : el("td", {}, "absent"),
    amount(entry.marginA), amount(entry.marginB), gap(entry.marginA, entry.marginB), units(entry.unit));
  return part("Verdicts", ["requirement", "A", "B", "margin A", "margin B", "B − A", "unit"], data.requirements, row,
    ["No verdict changed.", data.events ? "with the same verdict" : "that did not change"]);
}

function figures(data) {
  if (!data.figures.length) return null;
  const row = (entry) => el("tr", {}, el("th", { scope: "row" }, entry.text), amount(entry.a), amount(entry.b),
    gap(entry.a, entry.b), units(entry.unit));
  return part("Key figures", ["figure", "A", "B", "B − A", "unit"], data.figures, row, ["No key figure changed.", "that did not change"]);
}

function events(data, local) {
  if (!data.events) return "";
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
    el("footer", {}, el("p", {}, "Solid: A, dashed grey: B. Shaded: least to greatest within each recorded interval. Both are drawn reduced, with their peaks kept; all values are in the traces.")));
  assemble(run, [strip, chooser, ...panels]);
}

addEventListener("error", (event) => { document.documentElement.dataset.error = event.message; });
build();
