// One line of a legend: a swatch and words.
import { el } from "./dom.js";

export function svg(tag, properties) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(properties)) node.setAttribute(name, value);
  return node;
}

export function entry(label, style) {
  const swatch = svg("svg", { viewBox: "0 0 34 10", class: "swatch", "aria-hidden": "true" });
  if (style.mark) swatch.append(...style.mark(17, 5));
  else swatch.append(svg("line", { x1: 0, y1: 5, x2: 34, y2: 5, stroke: style.stroke, "stroke-width": style.width + 0.4,
    "stroke-dasharray": style.dash.join(" ") }));
  return el("div", { class: "entry" }, swatch, el("span", { class: "entry-label" }, label), el("span", {}));
}
