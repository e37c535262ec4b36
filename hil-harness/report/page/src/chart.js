// One set of curves over the shared time, drawn by uPlot.
import uPlot from "uplot";
import { axisDuration, decimalsFor, fixed } from "./format.js";
import { drawDaylight, drawEvents, drawFloor } from "./shading.js";
import { colours, looks } from "./theme.js";

const FONT = '11px system-ui, "Segoe UI", "Helvetica Neue", sans-serif';
export const GUTTER = 58;
export const SIDE = 10;

const SECOND = 1 / 3600;
const MINUTE = 1 / 60;
const TIME_STEPS = [...[1, 2, 5, 10, 20, 30].map((n) => n * SECOND), ...[1, 2, 5, 10, 20, 30].map((n) => n * MINUTE),
  1, 2, 3, 6, 12, 24, 48, 120, 240, 480, 1200, 2400, 4800];

/** As many decimals as an even step needs: 2.5 needs one. */
function decimalsOfStep(step) {
  let decimals = 0;
  while (decimals < 8 && Math.abs(step * 10 ** decimals - Math.round(step * 10 ** decimals)) > 1e-6) decimals += 1;
  return decimals;
}

/** Round local times, but none so near the left edge that it meets the labels of the value axis. */
function localTicks(run, from, to, most) {
  return run.local.ticks(from, to, most).filter((tick) => tick.at - from > 0.025 * (to - from));
}

function timeAxes(run, palette) {
  const grid = { stroke: palette.rule, width: 1 };
  const label = { stroke: palette.soft, font: FONT };
  const shown = (chart) => Math.max(2, Math.floor(chart.bbox.width / devicePixelRatio / 74));
  return [
    { ...label, scale: "x", side: 2, size: 26, gap: 3, space: 70, incrs: TIME_STEPS, grid,
      ticks: { show: false },
      values: (chart, splits, axis, space, step) => splits.map((value) => axisDuration(value, step)) },
    { ...label, stroke: palette.accent, scale: "x", side: 0, size: run.local.known ? 20 : 8, gap: 2,
      grid: { show: false }, ticks: { show: false },
      splits: (chart, axis, from, to) => localTicks(run, from, to, shown(chart)).map((tick) => tick.at),
      values: (chart) =>
        localTicks(run, chart.scales.x.min, chart.scales.x.max, shown(chart)).map((tick) => tick.word) },
  ];
}

function valueAxis(palette) {
  return { stroke: palette.soft, font: FONT, scale: "y", side: 3, size: GUTTER, gap: 6, space: 34,
    grid: { stroke: palette.rule, width: 1 }, ticks: { show: false },
    values: (chart, splits, axis, space, step) =>
      splits.map((value) => fixed(value, decimalsOfStep(step))) };
}

/** Values between which nine of ten of the panel lie. */
function bulk(panel) {
  const values = panel.lines.flatMap((line) => line.data).filter((value) => value !== null).sort((a, b) => a - b);
  const at = (share) => values[Math.min(Math.floor(share * values.length), values.length - 1)] ?? 0;
  return [at(0.05), at(0.95)];
}

/** The part of a range that is worth the room: the data, cut at the view of the panel only where few values lie beyond
    it, and never towards the floor below which harm lies. Panels of modules share theirs. */
function within(panel, typical, low, high) {
  if (!panel.view) return [low, high];
  if (panel.module) return panel.view;
  const bottom = panel.floor === undefined ? Math.max(low, Math.min(panel.view[0], typical[0])) : low;
  return [bottom, Math.max(bottom, Math.min(high, Math.max(panel.view[1], typical[1])))];
}

/** Room above and below the curves; never so little that noise fills the panel. */
function valueRange(panel) {
  const typical = panel.view ? bulk(panel) : null;
  return (chart, low, high) => {
    if (low === null || high === null) return [0, 1];
    [low, high] = within(panel, typical, low, high);
    if (panel.floor !== undefined) low = Math.min(low, panel.floor);
    const least = Math.max(Math.abs(low), Math.abs(high)) * 2e-3 || 1;
    const spare = Math.max(0, least - (high - low)) / 2;
    const room = 0.09 * Math.max(high - low, least);
    const bottom = low === 0 && spare === 0 ? 0 : low - spare - room;
    return [panel.floor === undefined ? bottom : Math.min(bottom, panel.floor - 1.2 * room), high + spare + room];
  };
}

const HIDDEN = { scale: "y", stroke: "transparent", width: 0, points: { show: false } };

/** Lines first, so that line n is series n + 1; then least and greatest of each line that has them. */
function series(panel, palette) {
  const lines = looks(panel, palette).map((style, i) => (style.band ? { ...HIDDEN, label: panel.lines[i].label }
    : { label: panel.lines[i].label, scale: "y", stroke: style.stroke, width: style.width, dash: style.dash,
      points: { show: false }, spanGaps: false }));
  return [...lines, ...panel.lines.filter((line) => line.low).flatMap(() => [HIDDEN, HIDDEN])];
}

function values(panel) {
  return [...panel.lines.map((line) => line.data),
    ...panel.lines.filter((line) => line.low).flatMap((line) => [line.low, line.high])];
}

/** Series of the extremes of each line: {index of the line: [low, high]}. */
export function extremes(panel) {
  let next = panel.lines.length + 1;
  const found = {};
  panel.lines.forEach((line, i) => {
    if (line.low) found[i + 1] = [next++, next++];
  });
  return found;
}

function translucent(colour, alpha) {
  return colour.startsWith("#") ? `${colour}${alpha}` : colour;
}

/** Areas between two curves: extremes of each line, all cells behind the tightest one, its distance from the limit. */
function bands(panel, palette) {
  const all = Object.entries(extremes(panel)).map(([index, [low, high]]) => ({ series: [high, low],
    fill: translucent(looks(panel, palette)[index - 1].stroke, "33") }));
  const at = (role) => panel.lines.findIndex((line) => line.role === role) + 1;
  if (at("band-high")) {
    all.push({ series: [at("band-high"), at("band-low")], fill: translucent(palette.line1, "26") });
    all.push({ series: [at("limit"), at("value")], fill: translucent(palette.limit, "14") });
  }
  return all;
}

export function makeChart(place, panel, run, height) {
  const { view } = run;
  const palette = colours();
  const options = {
    width: Math.max(place.clientWidth, 200),
    height,
    padding: [0, SIDE, 0, 0],
    legend: { show: false },
    focus: { alpha: 0.18 },
    scales: {
      x: { time: false, range: () => [view.from, view.to] },
      y: { range: valueRange(panel) },
    },
    axes: [...timeAxes(run, palette), valueAxis(palette)],
    series: [{}, ...series(panel, palette)],
    bands: bands(panel, palette),
    cursor: {
      y: false,
      drag: { x: true, y: false, setScale: false },
      points: { size: 6 },
      bind: { dblclick: () => () => { view.showAll(); return null; } },
    },
    hooks: {
      drawClear: [(chart) => {
        drawDaylight(chart, run.daylight, palette);
        drawEvents(chart, run.filter.lined(), palette);
        drawFloor(chart, panel, palette);
      }],
      setSelect: [(chart) => {
        const { left, width } = chart.select;
        if (width < 4) return;
        const [from, to] = [chart.posToVal(left, "x"), chart.posToVal(left + width, "x")];
        chart.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
        view.show(from, to);
      }],
    },
  };
  const chart = new uPlot(options, [run.hours, ...values(panel)], place);
  follow(chart, view);
  return chart;
}

/** Pointing (mouse, pen, finger) moves the shared instant, and every chart shows it. */
function follow(chart, view) {
  const point = (event) => view.point(chart.posToVal(event.offsetX, "x"));
  chart.over.addEventListener("pointermove", point);
  chart.over.addEventListener("pointerdown", point);
  chart.over.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse") view.point(null); });
}

export function showSpan(chart, view) {
  chart.batch(() => chart.setScale("x", { min: view.from, max: view.to }));
}

export function showInstant(chart, view) {
  const left = view.instant === null ? -10 : chart.valToPos(view.instant, "x");
  chart.setCursor({ left, top: left < 0 ? -10 : 10 }, false);
}

/** Values of a line at an instant: the nearest row that is shown. */
export function rowAt(hours, instant) {
  let low = 0;
  let high = hours.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (hours[middle] <= instant) low = middle;
    else high = middle;
  }
  return instant - hours[low] <= hours[high] - instant ? low : high;
}

export function decimalsOfLine(line) {
  let largest = 0;
  for (const value of line.data) if (value !== null) largest = Math.max(largest, Math.abs(value));
  return decimalsFor(largest);
}
