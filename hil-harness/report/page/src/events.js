// The events of a run: which kinds are shown, and the list of them, equal ones folded.
import { el } from "./dom.js";
import { duration } from "./format.js";

const SHOWN = 4; // rows before the rest is folded

/** Which kinds are shown; charts, strip and list follow it. */
export class EventFilter {
  constructor(events, kinds) {
    this.events = events;
    this.kinds = kinds;
    this.chosen = new Set(kinds.filter((kind) => kind.shown).map((kind) => kind.word));
    this.listeners = [];
  }

  toggle(word) {
    if (!this.chosen.delete(word)) this.chosen.add(word);
    for (const listener of this.listeners) listener();
  }

  onChange(listener) {
    this.listeners.push(listener);
  }

  shown() {
    return this.events.filter((event) => this.chosen.has(event.kind));
  }

  /** Those that a chart marks by a line. */
  lined() {
    const lined = new Set(this.kinds.filter((kind) => kind.lined).map((kind) => kind.word));
    return this.shown().filter((event) => lined.has(event.kind));
  }
}

/** Equal events as one, at the time of the first. */
function folded(events) {
  const groups = new Map();
  for (const event of events) {
    const key = `${event.kind}\n${event.text}`;
    if (groups.has(key)) groups.get(key).all.push(event);
    else groups.set(key, { ...event, all: [event] });
  }
  return [...groups.values()];
}

export class EventList {
  constructor(run, leftOut) {
    this.run = run;
    this.whole = false;
    this.chips = run.filter.kinds.map((kind) => this.chip(kind));
    this.list = el("ol", { class: "event-list" });
    this.more = el("button", { type: "button", class: "more", onclick: () => { this.whole = !this.whole; this.draw(); } });
    this.element = el("section", { class: "events" },
      el("div", { class: "event-head" }, el("h2", {}, "Events"),
        el("div", { class: "chips", role: "group", "aria-label": "Kinds of events that are shown" }, ...this.chips)),
      this.list, this.more,
      leftOut ? el("p", { class: "soft" }, `${leftOut} later events are not in the log.`) : null);
    run.filter.onChange(() => this.draw());
  }

  chip(kind) {
    const { filter } = this.run;
    const count = filter.events.filter((event) => event.kind === kind.word).length;
    const button = el("button", { type: "button", class: "chip", "data-kind": kind.word,
      "aria-pressed": String(filter.chosen.has(kind.word)),
      onclick: () => {
        filter.toggle(kind.word);
        button.setAttribute("aria-pressed", String(filter.chosen.has(kind.word)));
      } }, kind.label, el("span", { class: "count" }, ` ${count}`));
    return button;
  }

  row(group) {
    const { run } = this;
    const at = (event) => el("button", { type: "button", class: "link clock", title: `${duration(event.hours, true)} after the start; show the hour around it`,
      onclick: () => run.view.show(event.hours - 0.5, event.hours + 0.5) }, run.local.word(event.hours));
    const body = [el("span", { class: "event-kind" }, group.kind), el("span", { class: "event-text" }, group.text)];
    const count = group.all.reduce((sum, event) => sum + (event.count ?? 1), 0);
    if (group.all.length === 1) return el("li", {}, at(group), ...body, count > 1 ? el("span", { class: "soft" }, `×${count}`) : null);
    const last = group.all[group.all.length - 1];
    return el("li", {}, at(group), ...body,
      el("details", { class: "times" }, el("summary", {}, `×${count}, last ${run.local.word(last.hours)}`), ...group.all.slice(0, 100).map(at)));
  }

  draw() {
    const groups = folded(this.run.filter.shown());
    const rows = this.whole || "print" in document.documentElement.dataset ? groups : groups.slice(0, SHOWN);
    this.list.replaceChildren(...rows.map((group) => this.row(group)));
    this.more.hidden = groups.length <= SHOWN;
    this.more.textContent = this.whole ? "Show fewer" : `Show all ${groups.length}`;
    this.element.dataset.rows = String(groups.length);
  }

  resize() {}
  showSpan() {}
  showInstant() {}
}
