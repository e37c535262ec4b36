// Title, verdict, what was violated and what came before it: the part that is read first.
import { el } from "./dom.js";
import { duration, plain, withUnit } from "./format.js";
import { verdictLook } from "./verdict.js";


function counts(requirements) {
  const count = (word) => requirements.filter((entry) => entry.verdict === word).length;
  return { satisfied: count("satisfied"), violated: count("violated"), undecided: count("undecided"),
    unexercised: count("not exercised") };
}

function verdictLine(data) {
  const { requirements } = data;
  const { satisfied, violated, undecided, unexercised } = counts(requirements);
  const rest = [undecided ? `${undecided} undecided` : "", unexercised ? `${unexercised} not exercised` : ""].filter(Boolean);
  const early = data.ended && data.ended !== "reached end" ? `The run ended early: ${data.ended}${data.who ? `, ${data.who}` : ""}. ` : "";
  if (!requirements.length)
    return el("p", { class: early ? "sentence bad" : "sentence" }, `${early}No requirement was checked.`);
  const word = violated ? "violated" : satisfied === requirements.length ? "satisfied" : "undecided";
  const { tone, sign } = verdictLook(word);
  const all = requirements.length;
  const words = violated ? `${violated} of ${all} requirements violated`
    : satisfied === all ? `All ${all} requirements satisfied` : `${satisfied} of ${all} requirements satisfied`;
  return el("p", { class: `sentence ${early ? "bad" : tone}` }, el("span", { "aria-hidden": "true" }, `${sign} `),
    `${early}${words}${rest.length ? `, ${rest.join(", ")}` : ""}.`);
}

/** What an alarm asks for stands in the list of events. */
const short = (entry) => (entry.kind === "alarm" ? entry.text.replace(/\): .*/, ")") : entry.text);

function step(run, entry) {
  const times = entry.count > 1 ? ` ×${entry.count}` : "";
  return el("li", {}, el("button", { type: "button", class: "link clock", title: "Show the hour around it",
    onclick: () => run.view.show(entry.time / 3600 - 0.5, entry.time / 3600 + 0.5) }, run.local.word(entry.time / 3600)),
  ` ${entry.kind} `, el("b", {}, short(entry)), times);
}

function incident(run, entry) {
  const margin = entry.margin === null ? "" : `margin ${withUnit(plain(entry.margin), entry.unit)}, `;
  const lasted = entry.to > entry.from ? `, until ${run.local.word(entry.to / 3600)}` : "";
  const chain = entry.chain.map((one) => step(run, one));
  if (entry.leftOut) chain.splice(2, 0, el("li", { class: "soft" }, `${entry.leftOut} more`));
  const before = entry.causeLogged ? "Preceded by"
    : entry.chain.length ? "No fault, weather or power event is logged before it. Logged in the 2 h before"
      : "Nothing is logged in the 2 h before.";
  return el("article", { class: "incident" },
    el("h3", {}, el("span", { class: "bad", "aria-hidden": "true" }, "✕ "), entry.title,
      el("span", { class: "soft" }, `  ${margin}from ${run.local.word(entry.from / 3600)}${lasted}`)),
    entry.must ? el("p", { class: "soft formula" }, entry.must) : null,
    chain.length ? el("ol", { class: "chain", "aria-label": before }, el("li", { class: "soft" }, before), ...chain)
      : el("p", { class: "soft" }, before));
}

export function incidents(data, run) {
  if (!data.incidents.length) return null;
  const all = data.incidents.map((entry) => incident(run, entry));
  const shown = 2; // the earliest; the rest is folded
  const more = all.slice(shown);
  return el("section", { class: "incidents" },
    el("h2", {}, data.incidents.some((entry) => entry.verdict) ? "What was violated, and what came before" : "Interlocks, and what came before"),
    ...all.slice(0, shown),
    more.length ? el("details", {}, el("summary", {}, `${more.length} more`), ...more) : null);
}

export function head(data, run) {
  const from = run.local.known ? ` from ${run.local.word(run.view.first)} local solar time` : "";
  const facts = ["Report of a run", data.law && `law ${data.law}`, data.plant && `plant ${data.plant}`, data.seed && `seed ${data.seed}`,
    `${duration(data.end / 3600)} of plant time${from}`, `${data.rows} rows`, data.version && `duskline ${data.version}`];
  return el("header", {},
    el("h1", {}, data.title),
    verdictLine(data),
    data.purpose ? el("p", { class: "purpose" }, data.purpose) : null,
    el("p", { class: "provenance" }, facts.filter(Boolean).join(" · "),
      data.comparison ? el("span", {}, " · ", el("a", { href: data.comparison }, "comparison with the other run")) : null));
}

export function foot(data) {
  return el("footer", {},
    el("details", { class: "screen" }, el("summary", {}, `All ${data.signals.length} signals of the trace`),
      el("div", { class: "wide" }, el("table", { class: "signals" },
        el("thead", {}, el("tr", {}, ...["signal", "unit", "along", "meaning"].map((word) => el("th", { scope: "col" }, word)))),
        el("tbody", {}, ...data.signals.map((signal) => el("tr", {},
          el("th", { scope: "row" }, signal.name), el("td", {}, signal.unit), el("td", {}, signal.axis),
          el("td", {}, signal.meaning))))))),
    el("p", {}, "Long runs are drawn reduced, with every peak kept; all values are in the trace beside this page. " +
      "A model run is no proof of safety."));
}
