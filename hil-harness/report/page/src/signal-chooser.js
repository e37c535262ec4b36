// Any signal of one run over the other's, and their difference.
import { el } from "./dom.js";
import { Panel } from "./panel.js";

export class SignalChooser {
  constructor(data, run) {
    this.data = data;
    this.run = run;
    const offered = data.signals.filter((signal) => !signal.extreme);
    this.signal = offered.find((signal) => signal.name === data.first) ?? offered[0];
    this.names = el("select", { id: "signal", onchange: () => this.choose() }, ...this.groups());
    this.names.value = this.signal.name;
    this.places = el("select", { id: "place", onchange: () => this.show() });
    this.placeLabel = el("label", { for: "place" }, "");
    this.figures = el("div", {});
    this.element = el("section", {}, el("h2", { class: "section" }, "Any signal"),
      el("p", { class: "chooser" }, el("label", { for: "signal" }, "Signal "), this.names, " ", this.placeLabel, " ", this.places), this.figures);
    this.choose();
  }

  groups() {
    const groups = new Map();
    for (const signal of this.data.signals) {
      if (signal.extreme) continue; // drawn as the band of its signal
      if (!groups.has(signal.group)) groups.set(signal.group, el("optgroup", { label: signal.group || "other" }));
      groups.get(signal.group).append(el("option", { value: signal.name }, signal.name.replace(/_/g, " ")));
    }
    return [...groups.values()];
  }

  choose() {
    this.signal = this.data.signals.find((signal) => signal.name === this.names.value);
    const count = Math.max(this.signal.a.length, this.signal.b.length);
    this.places.replaceChildren(...Array.from({ length: count }, (_, i) => el("option", { value: i }, String(i + 1))));
    this.places.hidden = this.placeLabel.hidden = count < 2;
    this.placeLabel.textContent = this.signal.axis;
    this.show();
  }

  /** Values at all instants; a single number stands for all of them, nothing for a run that lacks the signal. */
  values(places) {
    const place = places[Number(this.places.value) || 0];
    if (place === undefined) return null;
    return Array.isArray(place) ? place : this.run.hours.map(() => place);
  }

  /** Least and greatest value within each recorded interval, where the trace of this run has them. */
  extremes(run) {
    const [low, high] = ["min", "max"].map((which) => {
      const signal = this.data.signals.find((one) => one.extreme && one.name === `${this.signal.name}_${which}`);
      return signal ? this.values(signal[run]) : null;
    });
    return low && high ? { low, high } : {};
  }

  show() {
    const { name, unit, meaning, words } = this.signal;
    const [a, b] = [this.values(this.signal.a), this.values(this.signal.b)];
    const line = (label, role, data, more = {}) => ({ label, role, unit, data, ...more });
    const flags = words.length ? ` ${words.map((word, i) => `${i} ${word}`).join(", ")}.` : "";
    const title = name.replace(/_/g, " ");
    const lines = [a && line("A", "value", a, this.extremes("a")), b && line("B", "other", b, this.extremes("b"))].filter(Boolean);
    const panels = lines.length ? [{ title, caption: `${meaning}.${flags}`, unit, lines }] : [];
    if (a && b && !words.length) {
      const difference = a.map((value, i) => (value === null || b[i] === null ? null : b[i] - value));
      panels.push({ title: "Difference", caption: `B less A: ${title}.`, unit, lines: [line("B − A", "value", difference)] });
    }
    this.panels = panels.map((panel, i) => new Panel(panel, i ? "b" : "a", this.run));
    this.figures.replaceChildren(...this.panels.map((panel) => panel.element));
    if (this.element.isConnected) this.draw();
  }

  draw() {
    for (const panel of this.panels) panel.draw();
  }

  resize() {
    for (const panel of this.panels) panel.resize();
  }

  showSpan() {
    for (const panel of this.panels) panel.showSpan();
  }

  showInstant() {
    for (const panel of this.panels) panel.showInstant();
  }
}
