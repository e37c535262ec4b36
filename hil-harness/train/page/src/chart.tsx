// Signals of one unit over time, drawn by uPlot.
import { useEffect, useRef } from "preact/hooks";
import uPlot from "uplot";
import { LocalTime } from "../../../report/page/src/local-time.js";
import { axisDuration } from "../../../report/page/src/format.js";
import { colours, looks } from "../../../report/page/src/theme.js";
import type { Signal } from "./protocol";
import { useCall, type Store } from "./store";
import { drawMarks, marksBetween, markKind } from "./marks";
import { type TrendData } from "./trend-data";
import { signalTitle } from "./words";

const HEIGHT = 170;  // px
const FONT = '12px system-ui, "Segoe UI", "Helvetica Neue", sans-serif';
const ROLES: Partial<Record<Signal["kind"], string>> = { limit: "limit", command: "target" };

export interface Look {
  stroke: string;
  width: number;
  dash: number[];
}

export function looksOf(signals: Signal[]): Look[] {
  return looks({ lines: signals.map((s) => ({ role: ROLES[s.kind] ?? "value" })) }, colours()) as Look[];
}

export function localTime(store: Store): LocalTime {
  const { start_local_time: start, sol_seconds: sol } = store.plant.scenario;
  return new LocalTime(start === undefined || !sol ? null : { time: [0, sol], hours: [start * 24, start * 24 + 24] });
}

function axes(local: LocalTime): uPlot.Axis[] {
  const palette = colours();
  const look = { stroke: palette["soft"] ?? "", font: FONT, grid: { stroke: palette["rule"] ?? "", width: 1 }, ticks: { show: false } };
  const most = (chart: uPlot) => Math.max(2, Math.floor(chart.bbox.width / devicePixelRatio / 80));
  const ticks = (chart: uPlot, from: number, to: number) => local.ticks(from, to, most(chart)) as { at: number; word: string }[];
  const time: uPlot.Axis = local.known
    ? { ...look, splits: (chart, _axis, from, to) => ticks(chart, from, to).map((tick) => tick.at),
      values: (chart) => ticks(chart, chart.scales["x"]?.min ?? 0, chart.scales["x"]?.max ?? 1).map((tick) => tick.word) }
    : { ...look, incrs: [1, 2, 5, 10, 30, 60, 120, 300, 600, 1800, 3600, 7200, 21600].map((s) => s / 3600),
      values: (_chart, splits, _axis, _space, step) => splits.map((h) => axisDuration(h, step)) };
  return [{ ...time, size: 26 }, { ...look, size: 62, gap: 6 }];
}

/** Room around the curves, and never so little that noise fills the chart: a fortieth of the widest span. */
function valueRange(signals: Signal[], low: number | null, high: number | null): [number, number] {
  if (low === null || high === null) return [Math.min(...signals.map((s) => s.low ?? 0)), Math.max(...signals.map((s) => s.high ?? 1))];
  const least = Math.max(...signals.map((s) => ((s.high ?? 0) - (s.low ?? 0)) / 40), Math.abs(high) * 1e-3, ...signals.map((s) => 10 ** (1 - s.digits)));
  const room = 0.08 * Math.max(high - low, least) + Math.max(0, least - (high - low)) / 2;
  return [low - room, high + room];
}

/** Alarm limits of the signals, as dashes across the chart. */
function drawLimits(chart: uPlot, signals: Signal[]): void {
  const { ctx, bbox } = chart;
  const limits = new Set(signals.flatMap((s) => [s.alarm_low, s.alarm_high]).filter((v): v is number => v != null));
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  ctx.strokeStyle = colours()["limit"] ?? "";
  ctx.lineWidth = 1.2 * devicePixelRatio;
  ctx.setLineDash([8, 4].map((n) => n * devicePixelRatio));
  for (const limit of limits) {
    const y = chart.valToPos(limit, "y", true);
    ctx.beginPath();
    ctx.moveTo(bbox.left, y);
    ctx.lineTo(bbox.left + bbox.width, y);
    ctx.stroke();
  }
  ctx.restore();
}

function makeChart(place: HTMLElement, data: TrendData, signals: Signal[], store: Store, onPoint: (hour: number | null) => void): uPlot {
  const styles = looksOf(signals);
  const hidden = { stroke: "transparent", width: 0, points: { show: false } };
  return new uPlot({
    width: Math.max(place.clientWidth, 200),
    height: HEIGHT,
    padding: [8, 8, 0, 0],
    legend: { show: false },
    cursor: { y: false, drag: { x: false, y: false }, points: { size: 6 }, sync: { key: "trends" } },
    scales: { y: { range: (_chart, low, high) => valueRange(signals, low, high) }, x: { time: false, range: () => [data.begin, Math.max(data.end, data.begin + data.span / 3600)] } },
    axes: axes(localTime(store)),
    series: [{}, ...styles.map((s) => ({ stroke: s.stroke, width: s.width, dash: s.dash, points: { show: false } })),
      ...signals.flatMap(() => [hidden, hidden])],
    bands: signals.map((_, i) => ({ series: [signals.length + 2 + 2 * i, signals.length + 1 + 2 * i] as [number, number], fill: `${styles[i]?.stroke ?? ""}33` })),
    hooks: {
      drawClear: [(chart) => drawLimits(chart, signals)],
      draw: [(chart) => drawMarks(chart, marksBetween(store, chart.scales["x"]?.min ?? 0, chart.scales["x"]?.max ?? 0))],
      setCursor: [(chart) => onPoint(chart.cursor.left === undefined || chart.cursor.left < 0 ? null : chart.posToVal(chart.cursor.left, "x"))],
    },
  }, columns(data, signals), place);
}

function columns(data: TrendData, signals: Signal[]): uPlot.AlignedData {
  const of = signals.map((s) => data.columns.get(s.name) ?? { value: [], low: [], high: [] });
  return [data.hours, ...of.map((c) => c.value), ...of.flatMap((c) => [c.low, c.high])];
}

const counted = (n: number, noun: string) => `${n} ${noun}${n === 1 ? "" : "s"}`;

/** What a screen reader hears instead of the curves. */
function summary(data: TrendData, signals: Signal[], store: Store): string {
  const marks = marksBetween(store, data.begin, data.end);
  const count = (kind: string) => marks.filter((entry) => markKind(entry) === kind).length;
  return [`${counted(count("alarm"), "alarm")} and ${counted(count("act"), "act")} of people marked`, ...signals.map((signal) => {
    const values = (data.columns.get(signal.name)?.value ?? []).filter((v): v is number => v !== null);
    const title = signalTitle(store, signal.name);
    if (!values.length) return `${title}: no values`;
    const text = (v: number) => v.toFixed(signal.digits);
    return `${title}: now ${text(values[values.length - 1] as number)}, least ${text(Math.min(...values))}, greatest ${text(Math.max(...values))} ${signal.unit}`;
  })].join(". ");
}

interface Props {
  store: Store;
  data: TrendData;
  signals: Signal[];
  drawn: number;
  onPoint: (hour: number | null) => void;
}

export function Chart({ store, data, signals, drawn, onPoint }: Props) {
  const place = useRef<HTMLDivElement>(null);
  const chart = useRef<uPlot | null>(null);
  const names = signals.map((s) => s.name).join();
  useEffect(() => {
    const node = place.current as HTMLDivElement;
    const make = () => {
      chart.current?.destroy();
      chart.current = makeChart(node, data, signals, store, onPoint);
    };
    make();
    const resized = new ResizeObserver(() => chart.current?.setSize({ width: Math.max(node.clientWidth, 200), height: HEIGHT }));
    resized.observe(node);
    const dark = matchMedia("(prefers-color-scheme: dark)");
    dark.addEventListener("change", make);
    return () => { resized.disconnect(); dark.removeEventListener("change", make); chart.current?.destroy(); chart.current = null; };
  }, [data, names]);
  useEffect(() => { chart.current?.setData(columns(data, signals)); }, [drawn]);
  useCall(store, ["log"], () => chart.current?.redraw(false));

  const move = (event: KeyboardEvent) => {
    const plot = chart.current;
    const step = ({ ArrowLeft: -1, ArrowRight: 1 } as Record<string, number>)[event.key];
    if (!plot || step === undefined) return;
    event.preventDefault();
    const width = plot.bbox.width / devicePixelRatio;
    const from = plot.cursor.left === undefined || plot.cursor.left < 0 ? width : plot.cursor.left;
    plot.setCursor({ left: Math.max(0, Math.min(width, from + (step * width) / (event.shiftKey ? 20 : 200))), top: 10 });
  };
  return (
    <div class="chart" ref={place} tabIndex={0} role="img" onKeyDown={move}
      aria-label={`${summary(data, signals, store)}. Left and right arrow move the cursor.`} />
  );
}
