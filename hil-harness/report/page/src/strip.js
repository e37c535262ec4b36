// The strip that stays at the top: the whole run, the part shown, the instant pointed at.
import { el } from "./dom.js";
import { duration } from "./format.js";
import { controlByKeys } from "./keys.js";
import { colours } from "./theme.js";

const HEIGHT = 44;

export class Strip {
  constructor(run) {
    this.run = run;
    this.canvas = el("canvas", { "aria-hidden": "true" });
    this.place = el("div", { class: "strip-plot", tabindex: 0, role: "group",
      "aria-label": "The whole run. Drag to choose a span of time; arrow keys move the instant." }, this.canvas);
    this.words = el("output", { class: "strip-words", "aria-live": "polite" });
    this.reset = el("button", { type: "button", class: "reset", onclick: () => run.view.showAll() }, "Whole run");
    this.element = el("div", { class: "strip" }, el("div", { class: "strip-head" }, this.words, this.reset), this.place);
    controlByKeys(this.place, run.view);
    this.listen();
  }

  listen() {
    const { view } = this.run;
    let start = null;
    const hours = (event) => view.first + (event.offsetX / this.width) * (view.last - view.first);
    this.canvas.addEventListener("pointerdown", (event) => {
      start = hours(event);
      this.canvas.setPointerCapture(event.pointerId);
    });
    this.canvas.addEventListener("pointermove", (event) => {
      if (start === null) return;
      this.choice = [start, hours(event)].sort((a, b) => a - b);
      this.draw();
    });
    this.canvas.addEventListener("pointerup", () => {
      const choice = this.choice;
      start = null;
      this.choice = undefined;
      if (choice && choice[1] - choice[0] > 0.004 * (view.last - view.first)) view.show(...choice);
      else this.draw();
    });
    this.canvas.addEventListener("dblclick", () => view.showAll());
  }

  x(hours) {
    const { view } = this.run;
    return ((hours - view.first) / (view.last - view.first)) * this.width;
  }

  draw() {
    this.width = Math.max(this.place.clientWidth, 200);
    const pixel = devicePixelRatio;
    this.canvas.width = this.width * pixel;
    this.canvas.height = HEIGHT * pixel;
    const context = this.canvas.getContext("2d");
    context.scale(pixel, pixel);
    const palette = colours();
    this.drawDaylight(context, palette);
    this.drawTicks(context, palette);
    const { view } = this.run;
    const [from, to] = (this.choice ?? [view.from, view.to]).map((hours) => this.x(hours));
    context.fillStyle = palette.paper;
    context.globalAlpha = 0.72;
    context.fillRect(0, 0, from, HEIGHT);
    context.fillRect(to, 0, this.width - to, HEIGHT);
    context.globalAlpha = 1;
    context.fillStyle = palette.accent;
    context.fillRect(from, HEIGHT - 3, Math.max(to - from, 2), 3);
    if (view.instant !== null) {
      context.fillStyle = palette.ink;
      context.fillRect(this.x(view.instant), 0, 1, HEIGHT);
    }
  }

  drawDaylight(context, palette) {
    const family = getComputedStyle(document.body).fontFamily;
    context.font = `italic 11px ${family}`;
    context.textBaseline = "top";
    for (const { kind, from, to } of this.run.daylight) {
      const [left, right] = [this.x(from), this.x(to)];
      context.fillStyle = kind === "night" ? palette.night : palette.twilight;
      context.fillRect(left, 0, right - left, HEIGHT);
      context.fillStyle = palette.soft;
      if (context.measureText(kind).width < right - left - 4) context.fillText(kind, left + 4, 3);
    }
  }

  drawTicks(context, palette) {
    const { view, local, filter } = this.run;
    context.font = `11px ${getComputedStyle(document.body).fontFamily}`;
    context.textBaseline = "bottom";
    context.textAlign = "center";
    context.fillStyle = palette.soft;
    for (const { at, word } of local.ticks(view.first, view.last, Math.floor(this.width / 62))) {
      const x = this.x(at);
      if (x > 18 && x < this.width - 18) context.fillText(word, x, HEIGHT - 5);
    }
    context.textAlign = "start";
    context.fillStyle = palette.soft;
    for (const event of filter.lined()) context.fillRect(this.x(event.hours), 17, 1.5, HEIGHT - 36);
  }

  showSpan() {
    this.draw();
    this.speak();
  }

  showInstant() {
    this.draw();
    this.speak();
  }

  resize() {
    this.draw();
  }

  speak() {
    const { view, local, filter } = this.run;
    const whole = view.from === view.first && view.to === view.last;
    this.reset.disabled = whole;
    if (view.instant === null) {
      this.words.textContent = whole ? "The whole run"
        : `${local.word(view.from)} to ${local.word(view.to)}, ${duration(view.to - view.from)}`;
      return;
    }
    const near = filter.shown().filter((event) => Math.abs(event.hours - view.instant) < 0.006 * (view.to - view.from));
    const parts = [`${duration(view.instant, true)} since the start`];
    if (local.known) parts.unshift(`${local.word(view.instant)} local solar time`);
    parts.push(...near.map((event) => event.text));
    this.words.textContent = parts.join(" · ");
  }
}
