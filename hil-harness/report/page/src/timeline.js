// Lanes over the common axis of time: states, faults, alarms, what the operator did, what was violated.
import { GUTTER, SIDE } from "./chart.js";
import { el } from "./dom.js";
import { controlByKeys } from "./keys.js";

const ROW = 20;
const GAP = 2;
const ROWS = { mode: 2, limiter: 1, law: 1, response: 1, interlocks: 1, operator: 1, power: 1, diagnosed: 2 }; // at most, else 3
const MINOR = new Set(["law", "response", "suspect", "suspect_items", "unmet_permissives", "power"]); // folded at first
const DARK = new Set(["cause", "act"]);

const measure = document.createElement("canvas").getContext("2d");

function svg(tag, properties, text) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(properties)) node.setAttribute(name, value);
  if (text !== undefined) node.textContent = text;
  return node;
}

/** What of a lane stands at an instant, in words. */
function wordsAt(lane, seconds) {
  if (lane.marks) return "";
  const standing = lane.items.filter((item) => item.from <= seconds && (seconds < item.to || item.from === item.to));
  return standing.map((item) => item.text).join(", ");
}

class LaneView {
  constructor(lane, run) {
    Object.assign(this, { lane, run, rows: 1 });
    this.picture = svg("svg", { class: "lane-picture", role: "img",
      "aria-label": `${lane.label}: ${lane.items.slice(0, 12).map((item) => item.text).join(", ")}` });
    this.words = el("span", { class: "lane-words" });
    this.name = el("div", { class: "lane-name" }, el("span", { class: "lane-label" }, lane.label), this.words);
    this.element = el("div", { class: "lane", "data-lane": lane.key }, this.name, el("div", { class: "lane-plot" }, this.picture));
  }

  /** Where an item and its words go, in pixels; words beside it when they do not fit inside. */
  place(item, width) {
    const { view } = this.run;
    const x = (seconds) => GUTTER + ((seconds / 3600 - view.from) / (view.to - view.from)) * (width - GUTTER - SIDE);
    let [left, right] = [Math.max(x(item.from), GUTTER), Math.min(x(item.to), width - SIDE)];
    if (right < GUTTER || left > width - SIDE) return null;
    if (this.lane.marks) [left, right] = [left - 4, left + 4];
    right = Math.max(right, left + 2);
    const length = measure.measureText(item.text).width;
    if (!this.lane.marks && length + 10 < right - left) return { item, left, right, begin: left, end: right, text: left + 5 };
    if (right + length + 5 < width) return { item, left, right, begin: left, end: right + length + 9, text: right + 4 };
    if (left - length - 5 > GUTTER) return { item, left, right, begin: left - length - 9, end: right, text: left - length - 4 };
    return { item, left, right, begin: left, end: right, text: null };
  }

  /** Each item on the first row with room for it and its words. Where there is none, the words in its way go, so that no
      shape crosses a word. */
  pack(width) {
    const most = ROWS[this.lane.key] ?? 3;
    const rows = [];
    const placed = [];
    for (const item of [...this.lane.items].sort((a, b) => a.from - b.from)) {
      const one = this.place(item, width);
      if (!one) continue;
      let row = rows.findIndex((r) => r.end <= one.begin + 0.5);
      if (row < 0 && rows.length < most) row = rows.push({}) - 1;
      if (row < 0) {
        // a shape is two pixels wide at least, so neighbours may share as much
        row = rows.findIndex((r) => r.shape <= one.left + 2.5);
        if (row < 0 || one.begin < one.left) one.text = null;
        if (row < 0) row = rows.reduce((best, r, k) => (r.shape < rows[best].shape ? k : best), 0);
        if (rows[row].last.end > one.left) rows[row].last.text = null;
      }
      const shape = Math.max(rows[row].shape ?? 0, one.right);
      rows[row] = { shape, end: one.text !== null && one.end > one.right ? Math.max(shape, one.end + 4) : shape, last: one };
      placed.push(Object.assign(one, { row }));
    }
    return placed;
  }

  draw(width, family) {
    measure.font = `12px ${family}`;
    const placed = this.merged(this.pack(width));
    this.rows = Math.max(this.rows, ...placed.map((one) => one.row + 1));
    const height = this.rows * ROW + GAP;
    this.picture.setAttribute("width", width);
    this.picture.setAttribute("height", height);
    this.picture.replaceChildren(...this.daylight(width, height), ...placed.flatMap((one) => this.shapes(one)));
  }

  /** Neighbours too narrow to be distinguished become one. */
  merged(placed) {
    const kept = [];
    for (const one of placed) {
      const before = kept[kept.length - 1];
      if (before && before.row === one.row && one.text === null && before.text === null && one.right - before.left < 3) before.right = one.right;
      else kept.push(one);
    }
    return kept;
  }

  daylight(width, height) {
    const { view } = this.run;
    const x = (hours) => Math.min(Math.max(GUTTER + ((hours - view.from) / (view.to - view.from)) * (width - GUTTER - SIDE), GUTTER), width - SIDE);
    return this.run.daylight.filter(({ from, to }) => x(to) > x(from)).map(({ kind, from, to }) =>
      svg("rect", { x: x(from), y: 0, width: x(to) - x(from), height, class: kind === "night" ? "night" : "twilight" }));
  }

  shapes({ item, left, right, row, text }) {
    const top = row * ROW + GAP;
    const shape = this.lane.marks
      ? svg("path", { d: `M${left + 4} ${top + 4}l5 5l-5 5l-5-5z`, class: `tone-${item.tone}` })
      : svg("rect", { x: left, y: top, width: Math.max(right - left - 0.5, 1), height: ROW - GAP - 1, class: `tone-${item.tone}` });
    shape.append(svg("title", {}, item.text));
    if (text === null) return [shape];
    const inside = !this.lane.marks && text > left && text < right;
    return [shape, svg("text", { x: text, y: top + ROW / 2 + 3, class: inside && DARK.has(item.tone) ? "on-dark" : "on-light" }, item.text)];
  }
}

export class Timeline {
  constructor(lanes, run) {
    this.run = run;
    this.lanes = lanes.map((lane) => new LaneView(lane, run));
    const minor = this.lanes.filter((view) => MINOR.has(view.lane.key));
    for (const view of minor) view.element.hidden = true;
    this.more = minor.length ? el("button", { type: "button", class: "more-lanes", "aria-expanded": "false",
      onclick: () => this.unfold(minor) }, this.moreWords(minor, true)) : null;
    this.cursor = el("div", { class: "lane-cursor", hidden: true });
    this.body = el("div", { class: "lanes", tabindex: 0, role: "group",
      "aria-label": "Lanes over time. Arrow keys move the instant, plus and minus zoom, zero shows the whole run." },
    ...this.lanes.map((lane) => lane.element), this.cursor);
    this.element = el("section", { class: "timeline", "aria-label": "Timeline" }, this.body, this.more);
    controlByKeys(this.body, run.view);
    this.body.addEventListener("pointermove", (event) => this.point(event));
    this.body.addEventListener("pointerdown", (event) => this.point(event));
    this.body.addEventListener("pointerleave", () => run.view.point(null));
    this.body.addEventListener("dblclick", () => run.view.showAll());
  }

  moreWords(minor, folded) {
    return folded ? `Show ${minor.length === 1 ? "one more lane" : `${minor.length} more lanes`}: ${
      minor.map((view) => view.lane.label.toLowerCase()).join(", ")}` : "Show fewer lanes";
  }

  unfold(minor) {
    const folded = !minor[0].element.hidden;
    for (const view of minor) view.element.hidden = folded;
    this.more.setAttribute("aria-expanded", String(!folded));
    this.more.textContent = this.moreWords(minor, folded);
    this.draw();
  }

  point(event) {
    const { view } = this.run;
    const box = this.plotBox();
    const share = (event.clientX - box.left - GUTTER) / (box.width - GUTTER - SIDE);
    view.point(share < 0 || share > 1 ? null : view.from + share * (view.to - view.from));
  }

  shown() {
    return this.lanes.filter((view) => !view.element.hidden);
  }

  plotBox() {
    return this.shown()[0].picture.parentElement.getBoundingClientRect();
  }

  draw() {
    if (!this.shown().length) return;
    const width = Math.max(this.shown()[0].picture.parentElement.clientWidth, 200);
    const family = getComputedStyle(document.body).fontFamily;
    for (const lane of this.shown()) lane.draw(width, family);
    this.showInstant();
  }

  resize() {
    for (const lane of this.lanes) lane.rows = 1;
    this.draw();
  }

  showSpan() {
    this.draw();
  }

  showInstant() {
    const { view } = this.run;
    this.cursor.hidden = view.instant === null || !this.shown().length;
    for (const { lane, words } of this.lanes) words.textContent = view.instant === null ? "" : wordsAt(lane, view.instant * 3600);
    if (this.cursor.hidden) return;
    const box = this.plotBox();
    const share = (view.instant - view.from) / (view.to - view.from);
    this.cursor.style.left = `${box.left - this.body.getBoundingClientRect().left + GUTTER + share * (box.width - GUTTER - SIDE)}px`;
  }
}
