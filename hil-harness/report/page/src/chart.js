// One set of curves over the shared time, drawn by uPlot.
import uPlot from "uplot";
import { drawDaylight, drawEvents, drawFloor } from "./shading.js";
import { decimalsFor, fixed, hoursWord } from "./format.js";
import { colours, look } from "./theme.js";

const FONT = '11px system-ui, "Segoe UI", "Helvetica Neue", sans-serif';
export const GUTTER = 58;

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

function timeAxes(run, palette) {
  const grid = { stroke: palette.rule, width: 1 };
  const label = { stroke: palette.soft, font: FONT };
  const shown = (chart) => Math.max(2, Math.floor(chart.bbox.width / devicePixelRatio / 74));
  return [
    { ...label, scale: "x", side: 2, size: 26, gap: 3, space: 70, incrs: TIME_STEPS, grid,
      ticks: { show: false },
      values: (chart, splits, axis, space, step) => splits.map((value) => hoursWord(value, step)) },
    { ...label, stroke: palette.accent, scale: "x", side: 0, size: run.local.known ? 20 : 8, gap: 2,
      grid: { show: false }, ticks: { show: false },
      splits: (chart, axis, from, to) => run.local.ticks(from, to, shown(chart)).map((tick) => tick.at),
      values: (chart) =>
        run.local.ticks(chart.scales.x.min, chart.scales.x.max, shown(chart)).map((tick) => tick.word) },
  ];
}

function valueAxis(palette) {
  return { stroke: palette.soft, font: FONT, scale: "y", side: 3, size: GUTTER, gap: 6, space: 34,
    grid: { stroke: palette.rule, width: 1 }, ticks: { show: false },
    values: (chart, splits, axis, space, step) =>
      splits.map((value) => fixed(value, decimalsOfStep(step))) };
}

/** The part of a range that is worth the room, unless nothing of it is. */
function within(view, low, high) {
  if (!view || high <= view[0] || low >= view[1]) return [low, high];
  return [Math.max(low, view[0]), Math.min(high, view[1])];
}

/** Room above and below the curves; never so little that noise fills the panel. */
function valueRange(panel) {
  return (chart, low, high) => {
    if (low === null || high === null) return [0, 1];
    [low, high] = within(panel.view, low, high);
    if (panel.floor !== undefined) low = Math.min(low, panel.floor);
    const least = Math.max(Math.abs(low), Math.abs(high)) * 2e-3 || 1;
    const spare = Math.max(0, least - (high - low)) / 2;
    const room = 0.09 * Math.max(high - low, least);
    const bottom = low === 0 && spare === 0 ? 0 : low - spare - room;
    return [panel.floor === undefined ? bottom : Math.min(bottom, panel.floor - 1.2 * room), high + spare + room];
  };
}

function series(panel, palette) {
  let order = 0;
  return panel.lines.map((line) => {
    const style = look(line, line.role === "value" && !line.place ? order++ : order, palette);
    const hidden = line.role.startsWith("band");
    return { label: line.label, scale: "y", stroke: hidden ? "transparent" : style.stroke,
      width: hidden ? 0 : style.width, dash: style.dash, points: { show: false }, spanGaps: false };
  });
}

/** Areas between two curves: all cells behind the tightest one, and its distance from the limit. */
function bands(panel, palette) {
  const at = (role) => panel.lines.findIndex((line) => line.role === role) + 1;
  if (!at("band-high")) return [];
  return [
    { series: [at("band-high"), at("band-low")], fill: `${palette.line1}26` },
    { series: [at("limit"), at("value")], fill: `${palette.limit}14` },
  ];
}

export function makeChart(place, panel, run, height) {
  const { view } = run;
  const palette = colours();
  const options = {
    width: Math.max(place.clientWidth, 200),
    height,
    padding: [0, 10, 0, 0],
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
      drawClear: [(chart) => { drawDaylight(chart, run.daylight, palette); drawFloor(chart, panel, palette); }],
      draw: [(chart) => drawEvents(chart, run.events, palette)],
      setSelect: [(chart) => {
        const { left, width } = chart.select;
        if (width < 4) return;
        const [from, to] = [chart.posToVal(left, "x"), chart.posToVal(left + width, "x")];
        chart.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
        view.show(from, to);
      }],
    },
  };
  const chart = new uPlot(options, [run.hours, ...panel.lines.map((line) => line.data)], place);
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
