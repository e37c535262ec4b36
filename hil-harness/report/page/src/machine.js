// The map of the compressor with the path of the run: corrected flow against pressure ratio.
import { el } from "./dom.js";
import { duration, plain } from "./format.js";
import { entry, svg } from "./linear-legend.js";
import { DASHES, colours } from "./theme.js";

const EDGE = { left: 56, right: 52, top: 14, bottom: 44 };
const MARKS = 6; // instants that are written beside the path
const LETTER = 6.5; // px of a letter of their labels, with a margin
const GRAMS = 1000; // g in a kg

/** Ticks of an axis from 0: four to nine round numbers. */
function ticks(to) {
  const raw = to / 6, power = 10 ** Math.floor(Math.log10(raw));
  const step = power * [1, 2, 5, 10].find((s) => s * power >= raw);
  return Array.from({ length: Math.floor(to / step + 1e-9) + 1 }, (_, k) => Number((k * step).toPrecision(6)));
}

export class Machine {
  constructor(data, run) {
    const { machine, machinePath: path } = data;
    Object.assign(this, { machine, run });
    this.x = path.flow.map((flow, i) => GRAMS * flow * Math.sqrt(path.temperature[i] / machine.temperature) * machine.pressure / path.suction[i]);
    this.y = path.discharge.map((pressure, i) => pressure / path.suction[i]);
    const high = (values) => Math.max(...values.filter(Number.isFinite));
    this.xEnd = 1.05 * Math.max(GRAMS * high(machine.choke.flow), Math.min(high(this.x), 12));
    this.yEnd = 1.05 * Math.max(high(machine.surge.ratio), high(this.y));
    this.place = el("div", { class: "plot" });
    this.legend = el("div", { class: "legend" });
    const caption = `Speed lines in % of ${plain(machine.speed)} rad/s. Flow and speed are corrected to a suction of `
      + `${plain(machine.pressure)} Pa and ${plain(machine.temperature)} K, the point that the machine is made for; the coolers of the `
      + "lines are 50 K warmer than that. Left of the surge line the flow turns round; reverse flow is drawn at 0.";
    this.element = el("figure", { class: "panel" },
      el("figcaption", {}, el("h3", {}, "Map of the compressor"), el("p", {}, caption), this.legend), this.place);
  }

  /** Instants at equal times, the first and the last among them. */
  instants() {
    const { hours } = this.run, last = hours.length - 1;
    return Array.from({ length: MARKS }, (_, k) => {
      const at = hours[0] + (hours[last] - hours[0]) * k / (MARKS - 1);
      const found = hours.findIndex((hour) => hour >= at - 1e-9);
      return found < 0 ? last : found;
    });
  }

  draw() {
    const palette = colours();
    this.place.replaceChildren();
    this.legend.replaceChildren();
    const width = Math.min(Math.max(this.place.clientWidth, 280), 860), height = Math.round(0.58 * width);
    const inner = { x: width - EDGE.left - EDGE.right, y: height - EDGE.top - EDGE.bottom };
    const x = (value) => EDGE.left + inner.x * Math.min(Math.max(value, 0), this.xEnd) / this.xEnd;
    const y = (value) => EDGE.top + inner.y * (1 - Math.min(Math.max(value, 0), this.yEnd) / this.yEnd);
    Object.assign(this, { px: x, py: y });
    const root = svg("svg", { width, height, viewBox: `0 0 ${width} ${height}`, role: "img", class: "plane",
      "aria-label": "Map of the compressor: corrected flow against pressure ratio" });
    const text = (words, properties) => {
      const node = svg("text", { fill: palette.soft, "font-size": 11, ...properties });
      node.textContent = words;
      root.append(node);
    };
    for (const t of ticks(this.xEnd)) {
      root.append(svg("path", { d: `M${x(t)} ${EDGE.top}v${inner.y}`, stroke: palette.rule }));
      text(plain(t), { x: x(t), y: height - EDGE.bottom + 15, "text-anchor": "middle" });
    }
    for (const t of ticks(this.yEnd)) {
      root.append(svg("path", { d: `M${EDGE.left} ${y(t)}h${inner.x}`, stroke: palette.rule }));
      text(plain(t), { x: EDGE.left - 6, y: y(t) + 4, "text-anchor": "end" });
    }
    text("corrected flow, g/s", { x: EDGE.left + inner.x / 2, y: height - 8, "text-anchor": "middle" });
    text("pressure ratio, header over suction", { transform: `translate(13 ${EDGE.top + inner.y / 2}) rotate(-90)`, "text-anchor": "middle" });

    const curve = (flow, ratio, style) => {
      const points = flow.map((value, i) => `${x(value).toFixed(1)},${y(ratio[i]).toFixed(1)}`).join(" ");
      root.append(svg("polyline", { points, fill: "none", stroke: style.stroke, "stroke-width": style.width,
        "stroke-dasharray": style.dash.join(" "), "stroke-linejoin": "round" }));
    };
    const grams = (values) => values.map((value) => GRAMS * value);
    const styles = {
      speed: { stroke: palette.other, width: 1.1, dash: [] },
      surge: { stroke: palette.limit, width: 2.2, dash: [] },
      choke: { stroke: palette.target, width: 1.3, dash: DASHES.target },
      path: { stroke: palette.line1, width: 1.8, dash: [] },
    };
    for (const { speed, curve: line } of this.machine.lines) {
      curve(grams(line.flow), line.ratio, styles.speed);
      const last = line.flow.length - 1;
      text(`${plain(100 * speed)} %`, { x: x(GRAMS * line.flow[last]) + 4, y: Math.min(y(line.ratio[last]) + 4, height - EDGE.bottom - 3) });
    }
    curve(grams(this.machine.surge.flow), this.machine.surge.ratio, styles.surge);
    curve(grams(this.machine.choke.flow), this.machine.choke.ratio, styles.choke);
    curve(this.x, this.y, styles.path);

    const dot = (a, b) => [svg("circle", { cx: a, cy: b, r: 3.2, fill: palette.line1, stroke: palette.paper })];
    const begin = (a, b) => [svg("circle", { cx: a, cy: b, r: 5, fill: palette.paper, stroke: palette.ink, "stroke-width": 1.8 })];
    const end = (a, b) => [svg("rect", { x: a - 4.5, y: b - 4.5, width: 9, height: 9, fill: palette.ink })];
    const instants = this.instants(), taken = [];
    instants.forEach((i, k) => {
      const [a, b] = [x(this.x[i]), y(this.y[i])];
      root.append(...(k === 0 ? begin : k === MARKS - 1 ? end : dot)(a, b));
      const label = duration(this.run.hours[i] - this.run.hours[0]), right = a - 7, left = right - LETTER * label.length;
      let low = b - 7; // a label that would lie on another stands above it
      while (taken.some((t) => t.left < right && left < t.right && Math.abs(t.low - low) < 12)) low -= 12;
      taken.push({ left, right, low });
      text(label, { x: right, y: low, "text-anchor": "end", fill: palette.ink });
    });
    this.pointer = svg("circle", { r: 6, fill: "none", stroke: palette.accent, "stroke-width": 2, visibility: "hidden" });
    root.append(this.pointer);
    this.place.append(root);

    const half = duration(this.run.hours[instants[1]] - this.run.hours[0]);
    this.legend.append(entry("path of the run", styles.path), entry("begin", { mark: begin }), entry(`every ${half}`, { mark: dot }),
      entry("end", { mark: end }), entry("surge line", styles.surge), entry("choke", styles.choke), entry("speed lines", styles.speed));
  }

  resize() {
    this.draw();
  }

  showSpan() {}

  showInstant() {
    const at = this.run.view.instant;
    const i = at === null || at === undefined ? -1 : this.run.hours.findIndex((hour) => hour >= at);
    if (i < 0) return this.pointer.setAttribute("visibility", "hidden");
    for (const [name, value] of [["cx", this.px(this.x[i])], ["cy", this.py(this.y[i])], ["visibility", "visible"]])
      this.pointer.setAttribute(name, value);
    return undefined;
  }
}
