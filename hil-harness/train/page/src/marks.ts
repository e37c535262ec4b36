// Alarms and acts of people on the trends: what was logged, and when.
import { colours } from "../../../report/page/src/theme.js";
import type { LogEntry } from "./protocol";
import type { Store } from "./store";

export type MarkKind = "alarm" | "act";
export const MARKS: Record<MarkKind, { title: string; points: string }> = {
  alarm: { title: "alarm", points: "0,0 10,0 5,9" },            // points down, at the upper edge
  act: { title: "act of a person", points: "5,0 10,5 5,10 0,5" },
};
const SIZE = 10;  // px

export const markKind = (entry: LogEntry): MarkKind | null => (entry.kind === "alarm" || entry.kind === "act" ? entry.kind : null);

/** What an older branch of the session logged beyond the instant to which the session went back is no part of the run. */
export function marksBetween(store: Store, from: number, to: number): LogEntry[] {
  let marks: LogEntry[] = [];
  for (const entry of store.log) {
    if (entry.kind === "session") marks = marks.filter((mark) => mark.t <= entry.t);
    else if (markKind(entry) !== null) marks.push(entry);
  }
  return marks.filter((mark) => mark.t / 3600 >= from && mark.t / 3600 <= to);
}

interface Plot {
  ctx: CanvasRenderingContext2D;
  bbox: { left: number; top: number; width: number; height: number };
  valToPos: (value: number, scale: string, canvas: boolean) => number;
}

/** A thin line at each instant and the sign of its kind at the upper edge. */
export function drawMarks(chart: Plot, entries: LogEntry[]): void {
  const { ctx, bbox } = chart;
  const palette = colours();
  const unit = devicePixelRatio;
  ctx.save();
  ctx.lineWidth = unit;
  for (const entry of entries) {
    const kind = markKind(entry) as MarkKind;
    const x = chart.valToPos(entry.t / 3600, "x", true);
    if (x < bbox.left || x > bbox.left + bbox.width) continue;
    ctx.strokeStyle = ctx.fillStyle = palette[kind === "alarm" ? "ink" : "tone-act"] ?? "";
    ctx.globalAlpha = 0.45;
    ctx.setLineDash(kind === "alarm" ? [] : [3 * unit, 3 * unit]);
    ctx.beginPath();
    ctx.moveTo(x, bbox.top);
    ctx.lineTo(x, bbox.top + bbox.height);
    ctx.stroke();
    ctx.globalAlpha = 1;
    ctx.beginPath();
    for (const point of MARKS[kind].points.split(" ")) {
      const [px = 0, py = 0] = point.split(",").map(Number);
      ctx.lineTo(x + (px - SIZE / 2) * unit, bbox.top + py * unit);
    }
    ctx.fill();
  }
  ctx.restore();
}
