// Builds the report from the data in the page.
import { EventFilter, EventList } from "./events.js";
import { figures, requirements } from "./facts.js";
import { el } from "./dom.js";
import { guide } from "./guide.js";
import { foot, head, incidents } from "./head.js";
import { LocalTime } from "./local-time.js";
import { Machine } from "./machine.js";
import { Panel } from "./panel.js";
import { assemble } from "./shared.js";
import { Strip } from "./strip.js";
import { Timeline } from "./timeline.js";
import { timing } from "./timing.js";
import { View } from "./view.js";

function prepare(data) {
  const hours = data.time.map((seconds) => seconds / 3600);
  const events = data.events.map((event) => ({ ...event, hours: event.time / 3600 }));
  return {
    hours,
    filter: new EventFilter(events, data.kinds),
    view: new View(hours[0], Math.max(hours[hours.length - 1], hours[0] + 1e-6)),
    local: new LocalTime(data.localTime),
    daylight: data.daylight.map(({ kind, from, to }) => ({ kind, from: from / 3600, to: to / 3600 })),
  };
}

/** The map stands behind the margin to surge. */
const BEFORE_MAP = "Margin to surge";

function sections(data, run, parts) {
  const nodes = [];
  let section = "";
  data.panels.forEach((panel, i) => {
    if (panel.section !== section) {
      section = panel.section;
      nodes.push(el("h2", { class: "section" }, section));
    }
    const part = new Panel(panel, i + 1, run);
    parts.push(part);
    if (panel.module === 1) nodes.push(el("div", { class: "multiples" }));
    if (panel.module) nodes[nodes.length - 1].append(part.element);
    else nodes.push(part.element);
    if (data.machine && panel.title === BEFORE_MAP) {
      const map = new Machine(data, run);
      parts.push(map);
      nodes.push(map.element);
    }
  });
  return nodes;
}

function build() {
  const data = JSON.parse(document.getElementById("data").textContent);
  const run = prepare(data);
  const strip = new Strip(run);
  const timeline = new Timeline(data.lanes, run);
  const list = new EventList(run, data.eventsLeftOut);
  const parts = [strip, timeline, list];
  const compared = data.panels.some((panel) => panel.lines.some((line) => line.role === "other"));
  const first = [incidents(data, run), requirements(data, run)].filter(Boolean);
  document.getElementById("report").append(head(data, run),
    el("div", { class: first.length > 1 ? "findings two" : "findings" }, ...first),
    document.getElementById("response-times") ?? "", figures(data) ?? "",
    strip.element, timeline.element, list.element, ...sections(data, run, parts), timing(data) ?? "", guide(compared), foot(data));

  assemble(run, parts);
}

addEventListener("error", (event) => { document.documentElement.dataset.error = event.message; });
build();
