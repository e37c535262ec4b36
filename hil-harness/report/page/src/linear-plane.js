// A plane with equal scales on both axes: Nyquist curves, circles and poles, drawn as SVG.
import { el } from "./dom.js";
import { plain } from "./format.js";
import { entry, svg } from "./linear-legend.js";

const EDGE = { left: 54, right: 12, top: 10, bottom: 42 };

function ticks([from, to]) {
  const step = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1].find((s) => (to - from) / s <= 8) ?? 1;
  const first = Math.ceil(from / step - 1e-9);
  return Array.from({ length: Math.floor(to / step + 1e-9) - first + 1 }, (_, k) => Number(((first + k) * step).toFixed(6)));
}

export class Plane {
  constructor(window, items) {
    Object.assign(this, { window, items });
    this.place = el("div", { class: "plot" });
    this.legend = el("div", { class: "legend" });
  }

  style(item, order, palette, look) {
    if (item.kind === "path") return look({ role: "value" }, order, palette);
    const stroke = { first: palette.line1, third: palette.line3 }[item.role] ?? palette[item.role];
    const { dash } = look({ role: item.role === "limit" ? "limit" : "target" }, 0, palette);
    return { stroke, dash: item.kind === "circle" ? dash : [], width: 1.6 };
  }

  shape(item, style, x, y, scale) {
    const line = { fill: "none", stroke: style.stroke, "stroke-width": style.width, "stroke-dasharray": style.dash.join(" ") };
    const ring = (a, b) => [svg("circle", { cx: a, cy: b, r: 4, ...line })];
    const cross = (a, b) => [svg("path", { d: `M${a - 4} ${b - 4}l8 8M${a + 4} ${b - 4}l-8 8`, ...line })];
    if (item.kind === "circle") return { marks: [svg("circle", { cx: x(item.x), cy: y(item.y), r: item.r * scale, ...line })] };
    if (item.kind === "path") {
      const near = (value) => Math.min(Math.max(value, -1e3), 1e3);
      const points = item.x.map((value, k) => `${x(near(value)).toFixed(2)},${y(near(item.y[k])).toFixed(2)}`);
      return { marks: [svg("polyline", { points: points.join(" "), ...line })] };
    }
    const mark = item.kind === "ring" ? ring : cross;
    return { marks: item.points.flatMap(([a, b]) => mark(x(a), y(b))), mark };
  }

  draw(palette, look) {
    this.place.replaceChildren();
    this.legend.replaceChildren();
    const { window } = this;
    const width = Math.min(Math.max(this.place.clientWidth, 200), 640);
    const scale = (width - EDGE.left - EDGE.right) / (window.x[1] - window.x[0]);
    const inner = scale * (window.y[1] - window.y[0]);
    const height = inner + EDGE.top + EDGE.bottom;
    const x = (value) => EDGE.left + (value - window.x[0]) * scale;
    const y = (value) => EDGE.top + (window.y[1] - value) * scale;
    const root = svg("svg", { width, height, viewBox: `0 0 ${width} ${height}`, role: "img", class: "plane" });
    const text = (words, properties) => {
      const node = svg("text", { fill: palette.soft, "font-size": 11, ...properties });
      node.textContent = words;
      root.append(node);
    };
    for (const t of ticks(window.x)) {
      root.append(svg("path", { d: `M${x(t)} ${EDGE.top}v${inner}`, stroke: palette.rule }));
      text(plain(t), { x: x(t), y: height - EDGE.bottom + 15, "text-anchor": "middle" });
    }
    for (const t of ticks(window.y)) {
      root.append(svg("path", { d: `M${EDGE.left} ${y(t)}h${width - EDGE.left - EDGE.right}`, stroke: palette.rule }));
      text(plain(t), { x: EDGE.left - 6, y: y(t) + 4, "text-anchor": "end" });
    }
    text(window.xWord, { x: EDGE.left + 0.5 * (width - EDGE.left - EDGE.right), y: height - 6, "text-anchor": "middle" });
    text(window.yWord, { transform: `translate(12 ${EDGE.top + inner / 2}) rotate(-90)`, "text-anchor": "middle" });
    const frame = `clip-${Plane.count = (Plane.count ?? 0) + 1}`;
    const clip = svg("clipPath", { id: frame });
    clip.append(svg("rect", { x: EDGE.left, y: EDGE.top, width: width - EDGE.left - EDGE.right, height: inner }));
    const inside = svg("g", { "clip-path": `url(#${frame})` });
    root.append(clip, inside);
    let order = 0;
    for (const item of this.items) {
      const style = this.style(item, item.kind === "path" ? order++ : 0, palette, look);
      const { marks, mark } = this.shape(item, style, x, y, scale);
      inside.append(...marks);
      this.legend.append(entry(item.label, { ...style, mark }));
    }
    this.place.append(root);
  }
}
