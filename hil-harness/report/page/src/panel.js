// One figure: words and legend in the margin, curves beside them.
import { decimalsOfLine, extremes, makeChart, rowAt, showInstant, showSpan } from "./chart.js";
import { el } from "./dom.js";
import { fixed } from "./format.js";
import { controlByKeys } from "./keys.js";
import { colours, looks } from "./theme.js";

const HEIGHT = { small: 150, plain: 204, full: 240 };

function swatch(style, band) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", "0 0 34 10");
  svg.setAttribute("class", "swatch");
  svg.setAttribute("aria-hidden", "true");
  const shape = document.createElementNS("http://www.w3.org/2000/svg", band ? "rect" : "line");
  const place = band ? { x: 0, y: 1, width: 34, height: 8 } : { x1: 0, y1: 5, x2: 34, y2: 5 };
  for (const [name, value] of Object.entries(place)) shape.setAttribute(name, value);
  if (band) {
    shape.setAttribute("fill", style.stroke);
    shape.setAttribute("opacity", 0.25);
  } else {
    shape.setAttribute("stroke", style.stroke);
    shape.setAttribute("stroke-width", style.width + 0.4);
    shape.setAttribute("stroke-dasharray", style.dash.join(" "));
  }
  svg.append(shape);
  return svg;
}

/** Least and greatest value among the rows shown, and between them where that is recorded. */
function extent({ data, low: lows = data, high: highs = data }, first, last) {
  let low = Infinity;
  let high = -Infinity;
  for (let i = first; i <= last; i += 1) {
    if (lows[i] !== null) low = Math.min(low, lows[i]);
    if (highs[i] !== null) high = Math.max(high, highs[i]);
  }
  return [low, high];
}

class Entry {
  constructor(panel, index, style, band) {
    this.line = panel.lines[index];
    this.index = index + 1;
    this.decimals = decimalsOfLine(this.line);
    this.text = el("span", { class: "entry-value" });
    this.swatch = swatch(style, band);
    this.button = el("button", { type: "button", class: "entry", "aria-pressed": "true",
      title: "Show or hide this line" }, this.swatch, el("span", { class: "entry-label" }, this.line.label), this.text);
  }

  recolour(style, band) {
    const next = swatch(style, band);
    this.swatch.replaceWith(next);
    this.swatch = next;
  }

  show(run, rows, row) {
    const { data, unit } = this.line;
    const value = row !== null ? fixed(data[row], this.decimals) : this.span(extent(this.line, ...rows));
    this.text.textContent = unit ? `${value} ${unit}` : value;
  }

  span([low, high]) {
    if (low > high) return "–";
    const [from, to] = [fixed(low, this.decimals), fixed(high, this.decimals)];
    return from === to ? from : `${from} to ${to}`;
  }
}

export class Panel {
  constructor(panel, number, run) {
    this.panel = panel;
    this.run = run;
    const title = panel.module ? `${panel.title}, module ${panel.module}` : panel.title;
    const full = panel.lines.length > 2 || panel.floor !== undefined;
    this.height = panel.module ? HEIGHT.small : full ? HEIGHT.full : HEIGHT.plain;
    this.entries = looks(panel, colours()).map((style, i) => new Entry(panel, i, style, style.band));
    this.place = el("div", { class: "plot", tabindex: 0, role: "group",
      "aria-label": `${title}. Arrow keys move the instant, plus and minus zoom, zero shows the whole run.` });
    const unit = panel.unit ? el("span", { class: "unit" }, ` ${panel.unit}`) : null;
    this.element = el("figure", { class: panel.module ? "panel small" : "panel", id: `figure-${number}` },
      el("figcaption", {},
        el("h3", {}, el("span", { class: "number" }, `${number}`), title, unit),
        panel.module > 1 ? null : el("p", {}, panel.caption),
        el("div", { class: panel.lines.length > 5 ? "legend long" : "legend" },
          ...this.entries.map((entry) => entry.button))),
      this.place);
    for (const entry of this.entries) this.listen(entry);
    controlByKeys(this.place, run.view);
  }

  listen(entry) {
    const focus = (on) => this.chart.setSeries(on ? entry.index : null, { focus: true });
    entry.button.addEventListener("click", () => {
      const show = !this.chart.series[entry.index].show;
      this.show(entry, show);
      entry.button.setAttribute("aria-pressed", String(show));
    });
    entry.button.addEventListener("mouseenter", () => this.entries.length > 1 && focus(true));
    entry.button.addEventListener("mouseleave", () => focus(false));
  }

  /** A line and the band of its extremes. */
  show(entry, show) {
    for (const index of [entry.index, ...(extremes(this.panel)[entry.index] ?? [])]) this.chart.setSeries(index, { show });
  }

  draw() {
    this.chart?.destroy();
    const palette = colours();
    looks(this.panel, palette).forEach((style, i) => this.entries[i].recolour(style, style.band));
    this.chart = makeChart(this.place, this.panel, this.run, this.height);
    for (const entry of this.entries)
      if (entry.button.getAttribute("aria-pressed") === "false") this.show(entry, false);
    this.readOut();
  }

  resize() {
    this.chart.setSize({ width: Math.max(this.place.clientWidth, 200), height: this.height });
  }

  showSpan() {
    showSpan(this.chart, this.run.view);
  }

  showInstant() {
    showInstant(this.chart, this.run.view);
    this.readOut();
  }

  readOut() {
    const { hours, view } = this.run;
    const row = view.instant === null ? null : rowAt(hours, view.instant);
    const rows = [rowAt(hours, view.from), rowAt(hours, view.to)];
    for (const entry of this.entries) entry.show(this.run, rows, row);
  }
}
