// What the controller did, in words: one strip for each flag signal and one for the events.
import { GUTTER } from "./chart.js";
import { el } from "./dom.js";
import { controlByKeys } from "./keys.js";
import { colours } from "./theme.js";

const ROW = 30;
const EVENT_ROW = 18;
const SIDE = 10;
const QUIET = new Set(["off", "none", ""]);

export function wordAt(ribbon, index) {
  const value = ribbon.value[index];
  if (value === null || value < 0) return "unknown";
  if (!ribbon.masks) return ribbon.words[value] ?? String(value);
  return ribbon.words.filter((word, bit) => Math.floor(value / 2 ** bit) % 2 === 1).join(", ");
}

export function indexAt(ribbon, hours) {
  let index = 0;
  while (index + 1 < ribbon.from.length && ribbon.from[index + 1] <= hours * 3600) index += 1;
  return index;
}

/** A tint for each word; words of harm take the colour of limits, quiet ones none. */
function tint(ribbon, index, palette) {
  const word = wordAt(ribbon, index);
  if (QUIET.has(word)) return null;
  if (ribbon.masks || word === "safe" || word === "unknown") return `${palette.limit}55`;
  const tints = [palette.line1, palette.line2, palette.line3, palette.line4, palette.ramp1, palette.soft];
  return `${tints[ribbon.value[index] % tints.length]}40`;
}

export class StatusStrips {
  constructor(run) {
    this.run = run;
    this.rows = run.ribbons;
    this.eventRows = run.events.length ? Math.min(4, run.events.length) : 0;
    this.height = this.rows.length * ROW + this.eventRows * EVENT_ROW + 8;
    this.canvas = el("canvas", { "aria-hidden": "true" });
    this.place = el("div", { class: "plot ribbon", tabindex: 0, role: "group",
      "aria-label": "Modes, limits and events over time. Arrow keys move the instant." }, this.canvas);
    this.words = this.rows.map((row) => el("dd", {}, "–"));
    const list = el("dl", { class: "ribbon-words" });
    this.rows.forEach((row, i) => list.append(el("dt", {}, row.label), this.words[i]));
    this.element = el("figure", { class: "panel" },
      el("figcaption", {},
        el("h3", {}, "What the controller did"),
        el("p", {}, "Mode, what holds the current down, and reasons, as they stood at each instant."), list),
      this.place);
    controlByKeys(this.place, run.view);
    this.canvas.addEventListener("pointermove", (event) => run.view.point(this.instantOf(event)));
    this.canvas.addEventListener("pointerdown", (event) => run.view.point(this.instantOf(event)));
    this.canvas.addEventListener("pointerleave", () => run.view.point(null));
    this.canvas.addEventListener("dblclick", () => run.view.showAll());
  }

  instantOf(event) {
    const { view } = this.run;
    const share = (event.offsetX - GUTTER) / (this.width - GUTTER - SIDE);
    return view.from + share * (view.to - view.from);
  }

  x(hours) {
    const { view } = this.run;
    return GUTTER + ((hours - view.from) / (view.to - view.from)) * (this.width - GUTTER - SIDE);
  }

  draw() {
    this.width = Math.max(this.place.clientWidth, 200);
    const pixel = devicePixelRatio;
    this.canvas.width = this.width * pixel;
    this.canvas.height = this.height * pixel;
    this.canvas.style.height = `${this.height}px`;
    const context = this.canvas.getContext("2d");
    context.scale(pixel, pixel);
    const family = getComputedStyle(document.body).fontFamily;
    const palette = colours();
    context.save();
    context.beginPath();
    context.rect(GUTTER, 0, this.width - GUTTER - SIDE, this.height);
    context.clip();
    this.drawDaylight(context, palette);
    this.rows.forEach((row, i) => this.drawRow(context, row, i * ROW + 4, family, palette));
    this.drawEvents(context, this.rows.length * ROW + 4, family, palette);
    this.drawInstant(context, palette);
    context.restore();
    this.drawNames(context, family, palette);
  }

  drawDaylight(context, palette) {
    for (const { kind, from, to } of this.run.daylight) {
      context.fillStyle = kind === "night" ? palette.night : palette.twilight;
      context.fillRect(this.x(from), 0, this.x(to) - this.x(from), this.height);
    }
  }

  drawRow(context, row, top, family, palette) {
    context.font = `12px ${family}`;
    context.textBaseline = "middle";
    const last = this.run.view.last;
    row.from.forEach((seconds, i) => {
      const from = Math.max(this.x(seconds / 3600), GUTTER);
      const to = Math.min(this.x(i + 1 < row.from.length ? row.from[i + 1] / 3600 : last), this.width);
      const fill = tint(row, i, palette);
      if (to <= from || !fill) return;
      context.fillStyle = fill;
      context.fillRect(from, top, Math.max(to - from - 1, 1), ROW - 8);
      const word = wordAt(row, i);
      context.fillStyle = palette.ink;
      if (context.measureText(word).width < to - from - 10) context.fillText(word, from + 5, top + (ROW - 8) / 2);
    });
    context.fillStyle = palette.rule;
    context.fillRect(GUTTER, top + ROW - 8, this.width, 1);
  }

  /** Words beside their line, on the lowest row where neither meets what is already there. */
  drawEvents(context, top, family, palette) {
    context.font = `12px ${family}`;
    context.textBaseline = "middle";
    const free = Array(this.eventRows).fill(-Infinity);
    const right = this.width - SIDE;
    for (const event of this.run.events) {
      const x = this.x(event.hours);
      if (x < GUTTER - 1 || x > right) continue;
      const words = `${event.number}  ${event.text}`;
      const length = context.measureText(words).width + 5;
      const leftwards = x + length > right;
      const begin = leftwards ? x - length : x;
      let row = -1;
      while (row + 1 < this.eventRows && free[row + 1] < begin) row += 1;
      context.fillStyle = palette.accent;
      context.fillRect(x, 0, 1, top + (Math.max(row, 0) + 1) * EVENT_ROW);
      if (row < 0 || begin < GUTTER) continue;
      context.fillStyle = palette.paper;
      context.fillRect(leftwards ? begin - 3 : x + 2, top + row * EVENT_ROW + 2, length, EVENT_ROW - 4);
      context.fillStyle = palette.accent;
      context.fillText(words, leftwards ? begin : x + 5, top + (row + 0.5) * EVENT_ROW);
      free[row] = leftwards ? x : x + length + 10;
    }
  }

  drawInstant(context, palette) {
    if (this.run.view.instant === null) return;
    context.fillStyle = palette.ink;
    context.fillRect(this.x(this.run.view.instant), 0, 1, this.height);
  }

  drawNames(context, family, palette) {
    context.font = `11px ${family}`;
    context.textBaseline = "middle";
    context.textAlign = "right";
    context.fillStyle = palette.soft;
    this.rows.forEach((row, i) => context.fillText(row.short, GUTTER - 6, i * ROW + 4 + (ROW - 8) / 2));
    if (this.eventRows) context.fillText("events", GUTTER - 6, this.height - 4 - EVENT_ROW / 2);
  }

  resize() {
    this.draw();
  }

  showSpan() {
    this.draw();
  }

  showInstant() {
    this.draw();
    const { view } = this.run;
    this.rows.forEach((row, i) => {
      this.words[i].textContent = view.instant === null ? "–" : wordAt(row, indexAt(row, view.instant)) || "none";
    });
  }
}
