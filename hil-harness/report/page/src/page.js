// Builds the report from the data in the page.
import "uplot/dist/uPlot.min.css";
import "./style.css";
import { el } from "./dom.js";
import { guide } from "./guide.js";
import { foot, head } from "./head.js";
import { LocalTime } from "./local-time.js";
import { Panel } from "./panel.js";
import { StatusStrips } from "./ribbons.js";
import { Strip } from "./strip.js";
import { View } from "./view.js";

function prepare(data) {
  const hours = data.time.map((seconds) => seconds / 3600);
  const events = data.events.filter((event) => typeof event.time === "number")
    .sort((a, b) => a.time - b.time)
    .map((event, i) => ({ ...event, text: event.text ?? event.kind ?? "", hours: event.time / 3600, number: i + 1 }));
  return {
    hours,
    events,
    view: new View(hours[0], Math.max(hours[hours.length - 1], hours[0] + 1e-6)),
    local: new LocalTime(data.localTime),
    daylight: data.daylight.map(({ kind, from, to }) => ({ kind, from: from / 3600, to: to / 3600 })),
    ribbons: data.ribbons,
  };
}

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
    nodes.push(part.element);
  });
  return nodes;
}

function build() {
  const data = JSON.parse(document.getElementById("data").textContent);
  const run = prepare(data);
  const strip = new Strip(run);
  const ribbons = new StatusStrips(run);
  const parts = [strip, ribbons];
  const compared = data.panels.some((panel) => panel.lines.some((line) => line.role === "baseline"));
  document.getElementById("report").append(head(data, run), strip.element, guide(compared), ribbons.element,
    ...sections(data, run, parts), foot(data));

  const drawAll = () => parts.forEach((part) => part.draw());
  const resizeAll = () => parts.forEach((part) => part.resize());
  drawAll();
  strip.speak();
  run.view.onSpan(() => parts.forEach((part) => part.showSpan()));
  let waiting = false;
  run.view.onInstant(() => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      parts.forEach((part) => part.showInstant());
    });
  });
  let width = innerWidth;
  addEventListener("resize", () => {
    if (innerWidth === width) return;
    width = innerWidth;
    resizeAll();
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", drawAll);
  addEventListener("beforeprint", () => {
    document.documentElement.dataset.print = "";
    drawAll();
  });
  addEventListener("afterprint", () => {
    delete document.documentElement.dataset.print;
    drawAll();
  });
  document.documentElement.dataset.panels = String(document.querySelectorAll(".plot canvas").length);
}

addEventListener("error", (event) => { document.documentElement.dataset.error = event.message; });
build();
