// Trends: any signals over a chosen span, one chart a unit, values at the cursor beside their names.
import { useLayoutEffect, useMemo, useState } from "preact/hooks";
import { Chart, localTime, looksOf } from "./chart";
import { Panel } from "./panel";
import { MARKS, markKind, marksBetween, type MarkKind } from "./marks";
import type { Signal } from "./protocol";
import { useTopics, type Store } from "./store";
import { TrendData } from "./trend-data";
import { amount, instant, signalTitle, withUnit } from "./words";

const SPANS: [number, string][] = [[300, "5 min"], [900, "15 min"], [3600, "1 h"], [4 * 3600, "4 h"], [12 * 3600, "12 h"], [25 * 3600, "25 h"]];
const MOST = 12;
const KEY = "duskline-trends";

interface Choice {
  signals: string[];
  span: number;
}

function remembered(store: Store): Choice {
  const usual = { signals: store.plant.trends?.[0]?.signals ?? store.plant.margins?.cells.map((cell) => cell.margin) ?? [], span: 900 };
  try {
    const kept = JSON.parse(localStorage.getItem(KEY) ?? "null") as Choice | null;
    const signals = kept?.signals.filter((name) => store.signals.has(name)) ?? [];
    return kept && signals.length ? { signals, span: kept.span } : usual;
  } catch {
    return usual;
  }
}

function Chooser({ store, chosen, onAdd }: { store: Store; chosen: string[]; onAdd: (name: string) => void }) {
  const groups = store.plant.groups.map((group) => ({ ...group, signals: store.plant.signals.filter((s) => s.group === group.name) }));
  const known = new Set(store.plant.groups.map((group) => group.name));
  const rest = store.plant.signals.filter((s) => !known.has(s.group));
  const options = (signals: Signal[]) => signals.filter((s) => s.kind !== "time" && !chosen.includes(s.name))
    .map((s) => <option key={s.name} value={s.name}>{[signalTitle(store, s.name), s.kind === "true" ? "true value" : s.tag].filter(Boolean).join(", ")}</option>);
  return (
    <label class="chooser">Add a signal
      <select value="" disabled={chosen.length >= MOST} onChange={(e) => { onAdd(e.currentTarget.value); e.currentTarget.value = ""; }}>
        <option value="">choose</option>
        {groups.filter((g) => g.signals.length).map((g) => <optgroup key={g.name} label={g.title}>{options(g.signals)}</optgroup>)}
        {rest.length > 0 && <optgroup label="other">{options(rest)}</optgroup>}
      </select>
    </label>
  );
}

/** Units in the order in which they were chosen, and the signals of each. */
function byUnit(signals: Signal[]): [string, Signal[]][] {
  const units = new Map<string, Signal[]>();
  for (const signal of signals) units.set(signal.unit, [...(units.get(signal.unit) ?? []), signal]);
  return [...units];
}

/** What the marks mean, and what was logged near the cursor. */
function MarkLegend({ store, data, point }: { store: Store; data: TrendData; point: number | null }) {
  useTopics(store, "log");
  const room = data.span / 3600 / 50;
  const near = point === null ? [] : marksBetween(store, point - room, point + room);
  return (
    <div class="mark-legend">
      {(Object.keys(MARKS) as MarkKind[]).map((kind) => (
        <span key={kind}><svg class={`of-${kind}`} width="10" height="10" aria-hidden="true"><polygon points={MARKS[kind].points} /></svg> {MARKS[kind].title}</span>
      ))}
      <ul aria-label="Marks at the cursor">
        {near.slice(-4).map((entry) => <li key={entry.n}><span class="clock">{instant(store.plant, entry.t)}</span> {markKind(entry)}: {entry.text}</li>)}
      </ul>
    </div>
  );
}

export function TrendPanel({ store }: { store: Store }) {
  const [choice, setChoice] = useState(() => remembered(store));
  const [point, setPoint] = useState<number | null>(null);
  const [drawn, setDrawn] = useState(0);
  useTopics(store, "frame");
  const change = (next: Choice) => { localStorage.setItem(KEY, JSON.stringify(next)); setChoice(next); };
  const data = useMemo(() => new TrendData(store, choice.signals, choice.span), [choice]);
  useLayoutEffect(() => {
    const load = () => void data.load().then(() => setDrawn((n) => n + 1));
    let connected = store.connected;
    load();
    let missed = false;
    const offs = [store.on("rewound", load),
      store.on("link", () => { missed = missed || (store.connected && !connected); connected = store.connected; }),
      store.on("frame", () => {
        if (missed) load();  // now that the time is known up to which something is missing
        missed = false;
        if (data.follow()) setDrawn((n) => n + 1);
      })];
    return () => offs.forEach((off) => off());
  }, [data, store]);

  const signals = choice.signals.map((name) => store.signals.get(name)).filter((s): s is Signal => s !== undefined);
  const row = data.rowAt(point);
  const shown = (signal: Signal) => (point === null ? store.value(signal.name) : data.columns.get(signal.name)?.value[row] ?? null);
  const local = localTime(store);
  return (
    <Panel id="trends" title="Trends" note={point === null ? "now" : String(local.word(data.hours[row] ?? 0))}
      aside={
        <div class="choices">
          {store.plant.trends && store.plant.trends.length > 1 && (
            <label>Set <select value="" onChange={(e) => {
              const set = store.plant.trends?.[Number(e.currentTarget.value)];
              if (set) change({ ...choice, signals: set.signals });
            }}>
              <option value="">choose</option>
              {store.plant.trends.map((set, i) => <option key={i} value={String(i)}>{set.title}</option>)}
            </select></label>
          )}
          <Chooser store={store} chosen={choice.signals} onAdd={(name) => { if (name) change({ ...choice, signals: [...choice.signals, name] }); }} />
          <label>over <select value={choice.span} onChange={(e) => change({ ...choice, span: Number(e.currentTarget.value) })}>
            {SPANS.map(([s, word]) => <option key={s} value={s}>{word}</option>)}
          </select></label>
        </div>
      }>
      {data.problem && <p class="warn">{data.problem}</p>}
      {signals.length === 0 ? <p class="soft">No signal chosen.</p> : <MarkLegend store={store} data={data} point={point} />}
      {byUnit(signals).map(([unit, of]) => {
        const styles = looksOf(of);
        return (
          <div class="trend" key={unit}>
            <Chart store={store} data={data} signals={of} drawn={drawn} onPoint={setPoint} />
            <ul class="trend-legend">
              {of.map((signal, i) => (
                <li key={signal.name}>
                  <svg width="22" height="8" aria-hidden="true">
                    <line x1="0" x2="22" y1="4" y2="4" stroke={styles[i]?.stroke} stroke-width="2.5" stroke-dasharray={styles[i]?.dash.join(" ")} />
                  </svg>
                  <span>{signalTitle(store, signal.name)}</span>
                  <b class="amount">{withUnit(amount(signal, shown(signal)), unit)}</b>
                  <button type="button" class="plain" aria-label={`Remove ${signal.title}`}
                    onClick={() => change({ ...choice, signals: choice.signals.filter((name) => name !== signal.name) })}>×</button>
                </li>
              ))}
            </ul>
          </div>
        );
      })}
    </Panel>
  );
}
