// Title, verdict, key figures, requirements, events: the part that is read without looking at a curve.
import { el } from "./dom.js";
import { clock, plain, sinceStart } from "./format.js";

const BAD = /violat|fail|bad|broken|exceed|no$/i;
const CLOSE = /close|near|not |unknown|warn|tight/i;

/** A verdict is its word, with a sign before it that needs no colour. */
function verdict(word) {
  if (!word) return el("td", {});
  const kind = BAD.test(word) ? "bad" : CLOSE.test(word) ? "close" : "good";
  const sign = { bad: "✕", close: "△", good: "✓" }[kind];
  return el("td", { class: `verdict ${kind}` }, el("span", { "aria-hidden": "true" }, `${sign} `), word);
}

function table(title, heads, rows) {
  if (!rows.length) return null;
  return el("section", { class: "facts" }, el("h2", {}, title),
    el("table", {}, heads ? el("thead", {}, el("tr", {}, ...heads.map((head) => el("th", { scope: "col" }, head)))) : null,
      el("tbody", {}, ...rows)));
}

function amount(value, unit) {
  const text = plain(value);
  return el("td", { class: "amount" }, unit && unit !== "1" ? `${text} ${unit}` : text);
}

function figures(data) {
  return table("Key figures", null, data.figures.map((figure) =>
    el("tr", {},
      el("th", { scope: "row" }, figure.text ?? figure.name ?? "",
        figure.note ? el("small", {}, figure.note) : null),
      amount(figure.value, figure.unit), verdict(figure.verdict))));
}

function requirements(data) {
  return table("Requirements", ["", "least margin", ""], data.requirements.map((entry) =>
    el("tr", {},
      el("th", { scope: "row" }, entry.text ?? entry.name ?? "",
        typeof entry.time === "number" ? el("small", {}, `tightest at ${sinceStart(entry.time / 3600, false)}`) : null),
      amount(entry.margin, entry.unit), verdict(entry.verdict))));
}

function events(run) {
  const show = (event) => run.view.show(event.hours - 0.5, event.hours + 0.5);
  return table("Events", ["", "since start", "local", ""], run.events.map((event) =>
    el("tr", { class: "event" },
      el("td", { class: "event-number" }, String(event.number)),
      el("td", { class: "amount" }, sinceStart(event.hours)),
      el("td", { class: "amount" }, run.local.known ? clock(run.local.at(event.hours)) : ""),
      el("th", { scope: "row" },
        el("button", { type: "button", class: "link", title: "Show the hour around it", onclick: () => show(event) },
          event.text), event.kind ? el("small", {}, event.kind) : null))));
}

function sentence(data) {
  const all = data.requirements;
  if (!all.length) return null;
  const bad = all.filter((entry) => BAD.test(entry.verdict ?? ""));
  const held = all.filter((entry) => !BAD.test(entry.verdict ?? "") && !CLOSE.test(entry.verdict ?? ""));
  const open = all.length - bad.length - held.length;
  const rest = open ? ` ${open} could not be judged or ${open === 1 ? "was" : "were"} close.` : "";
  if (!bad.length) return el("p", { class: "sentence good" },
    (open ? `${held.length} of ${all.length} requirements held.` : `All ${all.length} requirements held.`) + rest);
  const words = bad.length === 1 ? "One requirement was violated" : `${bad.length} requirements were violated`;
  return el("p", { class: "sentence bad" }, `${words}: ${bad.map((entry) => entry.text ?? entry.name).join("; ")}.${rest}`);
}

export function head(data, run) {
  const attributes = Object.entries(data.attributes).filter(([name]) => name !== "title");
  return el("header", {},
    el("p", { class: "kind" }, "Report of a run"),
    el("h1", {}, data.title),
    data.purpose ? el("p", { class: "purpose" }, data.purpose) : null,
    sentence(data),
    el("p", { class: "provenance" },
      [`${sinceStart(run.view.last - run.view.first, false)} of plant time`, `${data.rows} rows`,
        ...attributes.map(([name, text]) => `${name.replace(/_/g, " ")} ${text}`)].join(" · ")),
    el("div", { class: "tables" }, figures(data), requirements(data), events(run)));
}

export function foot(data) {
  return el("footer", {},
    el("details", {}, el("summary", {}, `All ${data.signals.length} signals of the trace`),
      el("div", { class: "wide" }, el("table", { class: "signals" },
        el("thead", {}, el("tr", {}, ...["signal", "unit", "along", "meaning"].map((word) => el("th", { scope: "col" }, word)))),
        el("tbody", {}, ...data.signals.map((signal) => el("tr", {},
          el("th", { scope: "row" }, signal.name), el("td", {}, signal.unit), el("td", {}, signal.axis),
          el("td", {}, signal.meaning))))))),
    el("p", {}, "Long runs are drawn reduced, with every peak kept; all values are in the trace beside this page. " +
      "A model run is no proof of safety."));
}
