// Curves against frequency or time, drawn by uPlot.
import uPlot from "uplot";
import { el } from "./dom.js";
import { plain, SUPERSCRIPTS } from "./format.js";
import { entry } from "./linear-legend.js";

const FONT = '11px system-ui, "Segoe UI", "Helvetica Neue", sans-serif';

function decade(value) {
  if (!(value > 0)) return "";
  const power = Math.log10(value);
  if (Math.abs(power - Math.round(power)) > 1e-6) return "";
  const n = Math.round(power);
  return n >= -1 && n <= 2 ? String(10 ** n) : `10${[...String(n)].map((c) => SUPERSCRIPTS[c]).join("")}`;
}

export class Curves {
  constructor(x, lines, options) {
    Object.assign(this, { x, lines, options });
    this.place = el("div", { class: "plot" });
    this.legend = el("div", { class: "legend" });
  }

  range() {
    return (chart, low, high) => {
      const { view, floor, follow } = this.options;
      if (follow === "closed") {
        const values = this.lines[0].data;
        const [least, most] = [Math.min(0, ...values), Math.max(0, ...values)];
        const room = 0.6 * (most - least) || Math.max(Math.abs(high ?? 0), Math.abs(low ?? 0)) || 1;
        [low, high] = [Math.max(low, least - room), Math.min(high, most + room)];
      }
      if (view) [low, high] = [Math.max(low, view[0]), Math.min(high, view[1])];
      if (floor !== undefined) low = floor;
      const room = 0.06 * (high - low) || 1e-6;
      return [floor === undefined ? low - room : low, high + room];
    };
  }

  draw(palette, look) {
    this.chart?.destroy();
    this.legend.replaceChildren();
    let order = 0;
    const series = this.lines.map((line) => {
      const style = look(line, line.role === "value" ? order++ : order, palette);
      this.legend.append(entry(line.label, style));
      return { label: line.label, stroke: style.stroke, width: style.width, dash: style.dash, points: { show: false } };
    });
    const label = { stroke: palette.soft, font: FONT, ticks: { show: false } };
    const { log, small, xWord, yWord } = this.options;
    this.chart = new uPlot({
      width: Math.max(this.place.clientWidth, 200), height: small ? 198 : 298, padding: [10, 14, 0, 0],
      legend: { show: false }, cursor: { show: false },
      scales: { x: { time: false, distr: log ? 3 : 1 }, y: { range: this.range() } },
      axes: [
        { ...label, label: xWord, labelFont: FONT, labelSize: 18, grid: { stroke: palette.rule, width: 1 }, size: 30,
          values: (chart, splits) => splits.map((value) => (log ? decade(value) : plain(value))) },
        { ...label, label: yWord, labelFont: FONT, labelSize: 18, grid: { stroke: palette.rule, width: 1 }, size: 52, space: 30,
          values: (chart, splits) => splits.map((value) => plain(Number(value.toPrecision(6)))) },
      ],
      series: [{}, ...series],
    }, [this.x, ...this.lines.map((line) => line.data)], this.place);
  }
}
