// What the page knows of the plant, and who is called when it changes. Values are passed on at most five times a second,
// whatever the server sends (displays refresh within a second, ISA-101).
import { useLayoutEffect, useState } from "preact/hooks";
import { fetchHistory, fetchPlant, listen, type View } from "./link";
import type { Alarm, AlarmState, Checks, Command, Frame, History, LogEntry, Plant, Priority, SessionState, Signal, Titled } from "./protocol";

export type Topic = "frame" | "alarms" | "log" | "session" | "checks" | "link" | "rewound" | "view";

const SHOW_EVERY = 200;  // ms
const SILENCE = 3000;    // ms without a frame after which the values are old

const byName = <T extends Titled>(list: T[]) => new Map(list.map((item) => [item.name, item]));

export class Store {
  frame: Frame | null = null;
  alarms: AlarmState[] = [];
  log: LogEntry[] = [];
  session: SessionState = { frozen: false, speed: 1, delay: 0, saved: [] };
  checks: Checks = { procedures: {} };
  connected = false;
  lostBecause = "";
  stale = false;
  /** Alarms whose acknowledgement is under way, with the time at which it takes effect. */
  readonly acknowledged = new Map<string, number>();
  /** Commands that are under way: the time at which each takes effect, as the sender sees it. */
  sent: { at: number; text: string }[] = [];
  readonly signals: Map<string, Signal>;
  readonly commands: Map<string, Command>;
  readonly alarmsByName: Map<string, Alarm>;
  readonly modes: Map<string, Titled>;
  private readonly place: Map<string, number>;
  private readonly listeners = new Map<Topic, Set<() => void>>();
  private inSession = false;  // its state has come
  private wentBack = false;   // the next frame is of another branch
  private shownAt = 0;
  private waiting = 0;
  private heardAt = performance.now();
  private end: () => void = () => undefined;

  /** With the view of the trainees nothing can be done: it is looked at. */
  constructor(readonly plant: Plant, readonly view: View = "") {
    this.signals = byName(plant.signals);
    this.commands = byName(plant.commands);
    this.alarmsByName = byName(plant.alarms);
    this.modes = byName(plant.modes);
    this.place = new Map(plant.signals.map((signal, index) => [signal.name, index]));
  }

  on(topic: Topic, call: () => void): () => void {
    const calls = this.listeners.get(topic) ?? new Set();
    this.listeners.set(topic, calls.add(call));
    return () => calls.delete(call);
  }

  notify(topic: Topic): void {
    this.listeners.get(topic)?.forEach((call) => call());
  }

  value(name: string | undefined): number | null {
    const place = name === undefined ? undefined : this.place.get(name);
    return place === undefined ? null : this.frame?.values[place] ?? null;
  }

  /** "good", "suspect", or "old" when no reading arrives or all of them are old. */
  quality(name: string): "good" | "suspect" | "old" {
    if (this.stale) return "old";
    const place = this.place.get(name);
    const letter = place === undefined ? "g" : this.frame?.quality[place] ?? "g";
    if (letter === "s") return "suspect";
    return letter === "l" || (this.frame !== null && this.value(name) === null) ? "old" : "good";
  }

  /** What is shown is from before the link to the plant was lost. */
  get linkLost(): boolean {
    return this.frame?.quality[0] === "l";
  }

  get now(): number {
    return this.frame?.t ?? 0;
  }

  // the state of the session comes at once; with light time the frames show an earlier one

  get frozen(): boolean {
    return this.inSession ? this.session.frozen : this.frame?.frozen ?? false;
  }

  get speed(): number {
    return this.inSession ? this.session.speed : this.frame?.speed ?? 1;
  }

  get finished(): boolean {
    return this.session.finished ?? this.frame?.finished ?? false;
  }

  get mayAct(): boolean {
    return this.plant.role !== "observer" && this.view === "" && !this.finished;
  }

  start(): void {
    const plant = JSON.stringify(this.plant);
    let opened = 0;
    const close = listen({
      opened: () => {
        this.connected = true;
        this.lostBecause = "";
        this.notify("link");
        // Another session may answer at this address after a restart.
        if (opened++ > 0)
          void fetchPlant(this.view).then((now) => { if (JSON.stringify(now) !== plant) location.reload(); }, () => undefined);
      },
      lost: (reason) => { this.connected = false; this.lostBecause = reason ?? ""; this.notify("link"); },
      frame: (frame) => this.take(frame),
      alarms: (alarms) => { this.alarms = alarms; this.settle(); this.notify("alarms"); },
      log: (entry) => {
        if (entry.n <= (this.log[this.log.length - 1]?.n ?? -1)) return;
        this.log.push(entry);
        this.notify("log");
      },
      session: (session) => {
        this.wentBack = this.inSession && session.branches !== this.session.branches;
        this.inSession = true;
        this.session = { ...session, saved: session.saved ?? [] };
        if (this.wentBack) this.readAnew();
        this.notify("session");
      },
      checks: (checks) => { this.checks = { ...checks, procedures: checks.procedures ?? {} }; this.notify("checks"); },
    }, this.view);
    const watch = setInterval(() => {
      const stale = performance.now() - this.heardAt > SILENCE && !this.finished;
      if (stale === this.stale) return;
      this.stale = stale;
      this.notify("link");
      this.notify("frame");
    }, 500);
    this.end = () => { close(); clearInterval(watch); clearTimeout(this.waiting); };
  }

  stop(): void {
    this.end();
  }

  history(signals: string[], from: number, to: number, points: number): Promise<History> {
    return fetchHistory(signals, from, to, points, this.view);
  }

  private take(frame: Frame): void {
    const rewound = this.frame === null || frame.t < this.frame.t || this.wentBack;
    this.wentBack = false;
    this.frame = frame;
    this.heardAt = performance.now();
    if (rewound) this.readAnew();
    this.sent = this.sent.filter((command) => command.at > frame.t);
    this.settle();
    if (this.waiting) return;
    const wait = Math.max(0, this.shownAt + SHOW_EVERY - this.heardAt);
    this.waiting = window.setTimeout(() => {
      this.waiting = 0;
      this.shownAt = performance.now();
      if (this.stale) { this.stale = false; this.notify("link"); }
      this.notify("frame");
    }, wait);
  }

  /** What was kept of the time before is of another branch. */
  private readAnew(): void {
    this.sent = [];
    this.acknowledged.clear();
    this.notify("rewound");
  }

  /** An acknowledgement is no longer under way once the alarm has changed or its time is over. */
  private settle(): void {
    for (const [name, at] of this.acknowledged) {
      const alarm = this.alarms.find((one) => one.name === name);
      if (!alarm || !isUnacknowledged(alarm) || this.now > at + 2 * this.plant.period) this.acknowledged.delete(name);
    }
  }

  /** Seconds for which no frame has come. */
  silentFor(): number {
    return (performance.now() - this.heardAt) / 1000;
  }
}

/** Calls when one of the topics changes, from the moment of drawing: what comes before the browser paints is not lost. */
export function useCall(store: Store, topics: Topic[], call: () => void): void {
  useLayoutEffect(() => {
    const offs = topics.map((topic) => store.on(topic, call));
    return () => offs.forEach((off) => off());
  }, [store]);
}

/** Draws the component again when one of the topics changes. */
export function useTopics(store: Store, ...topics: Topic[]): void {
  const [, draw] = useState(0);
  useCall(store, topics, () => draw((n) => n + 1));
}

const RANK: Record<Priority, number> = { urgent: 4, high: 3, medium: 2, low: 1 };
export const rankOf = (store: Store, name: string) => RANK[store.alarmsByName.get(name)?.priority ?? "low"];

export const isUnacknowledged = (alarm: AlarmState) => alarm.state.includes("unack");
export const isShelved = (alarm: AlarmState) => alarm.state === "shelved";
/** The condition stands, or somebody has yet to see that it stood. */
export const isOpen = (alarm: AlarmState) => /acknowledged|latched/.test(alarm.state);

/** Those that ask for somebody before the others, by priority, the one that came first before what followed. */
export const byUrgency = (store: Store) => (a: AlarmState, b: AlarmState) =>
  Number(isUnacknowledged(b)) - Number(isUnacknowledged(a)) || rankOf(store, b.name) - rankOf(store, a.name)
  || Number(b.first_out ?? false) - Number(a.first_out ?? false) || a.since - b.since;

/** The alarms that ask for somebody, the most urgent first. */
export function urgent(store: Store): AlarmState[] {
  return store.alarms.filter(isUnacknowledged).sort(byUrgency(store));
}
