// The last half hour of a signal, beside its number.
import { useLayoutEffect, useRef } from "preact/hooks";
import { useTopics, type Store } from "./store";
import { amount, withUnit } from "./words";

const SPAN = 1800;   // s
const POINTS = 180;
const [WIDTH, HEIGHT] = [150, 30];

export function Sparkline({ store, signal, title }: { store: Store; signal: string; title: string }) {
  useTopics(store, "frame");
  const kept = useRef<{ t: number[]; y: number[] }>({ t: [], y: [] });
  useLayoutEffect(() => {
    kept.current = { t: [], y: [] };
    let request = 0;
    const load = () => {
      const end = store.now;
      const mine = ++request;
      store.history([signal], Math.max(0, end - SPAN), end, POINTS).then((history) => {
        if (mine !== request) return;
        const y = history[signal] ?? [];
        const usable = history.t.map((t, i) => [t, y[i]] as const).filter((p): p is readonly [number, number] => p[1] != null);
        kept.current = { t: usable.map((p) => p[0]), y: usable.map((p) => p[1]) };
      }, () => undefined);
    };
    load();
    let connected = store.connected;
    let missed = false;
    const offs = [store.on("rewound", load),
      store.on("link", () => { missed = missed || (store.connected && !connected); connected = store.connected; }),
      store.on("frame", () => { if (missed) load(); missed = false; })];
    return () => { request = -1; offs.forEach((off) => off()); };
  }, [signal]);

  const { t, y } = kept.current;
  const row = store.signals.get(signal);
  const value = store.value(signal);
  const end = store.now;
  if (value !== null && end - (t[t.length - 1] ?? -Infinity) >= SPAN / POINTS) {
    t.push(end);
    y.push(value);
    while ((t[0] as number) < end - SPAN) { t.shift(); y.shift(); }
  }
  if (!row || t.length < 2) return null;
  const low = Math.min(...y);
  const high = Math.max(...y);
  const room = Math.max(high - low, 0.1 * ((row.high ?? high) - (row.low ?? low)), 1e-9);
  const points = t.map((at, i) =>
    `${((WIDTH * (at - end + SPAN)) / SPAN).toFixed(1)},${(HEIGHT - 2 - ((HEIGHT - 4) * ((y[i] as number) - low)) / room).toFixed(1)}`);
  const text = `${amount(row, low)} to ${withUnit(amount(row, high), row.unit)}`;
  return (
    <figure class="sparkline">
      <figcaption>{title}, last 30 min, {text}</figcaption>
      <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} width={WIDTH} height={HEIGHT} aria-hidden="true">
        <polyline points={points.join(" ")} />
      </svg>
    </figure>
  );
}
