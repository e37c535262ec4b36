// Numbers, times and states as people read them.
import { clock, duration, fixed, plain } from "../../../report/page/src/format.js";
import type { Plant, Signal } from "./protocol";
import type { Store } from "./store";

export { duration, fixed, plain };

const HAIR = "\u2009";

export function withUnit(text: string, unit: string | undefined): string {
  return unit && unit !== "1" ? `${text}\u00a0${unit}` : text;
}

export function amount(signal: Signal, value: number | null): string {
  if (value === null) return "–";
  if (signal.words) return signal.words[String(Math.round(value))] ?? String(value);
  return fixed(value, signal.digits);
}

export function range(low: number | null | undefined, high: number | null | undefined, unit: string | undefined): string {
  const text = (value: number) => plain(value) as string;
  if (low == null && high == null) return "";
  if (low == null) return withUnit(`at most ${text(high as number)}`, unit);
  if (high == null) return withUnit(`at least ${text(low)}`, unit);
  return withUnit(`${text(low)} to ${text(high)}`, unit);
}

/** Hours of local solar time at a plant time, counted through midnights; null when the scenario has no weather. */
export function localHours(plant: Plant, t: number): number | null {
  const { start_local_time: start, sol_seconds: sol } = plant.scenario;
  return start === undefined || !sol ? null : (start + t / sol) * 24;
}

/** An instant: local time "15:22" or "sol 2, 15:22", else the time since the start. */
export function instant(plant: Plant, t: number, seconds = false): string {
  const hours = localHours(plant, t);
  if (hours === null) return since(t);
  const sol = Math.floor(hours / 24 + 1e-9) - Math.floor((plant.scenario.start_local_time ?? 0) + 1e-9) + 1;
  const rest = Math.floor((((hours * 60) % 1) + 1) % 1 * 60);
  const time = seconds ? `${clock(hours)}:${String(rest).padStart(2, "0")}` : clock(hours);
  return sol > 1 ? `sol ${sol}, ${time}` : time;
}

/** Time since the start, "1 h 02 min", with seconds below an hour. */
export function since(t: number): string {
  return duration(t / 3600);
}

/** A plant time as it is typed: "1:02:30". */
export function hms(t: number): string {
  const s = Math.round(t);
  const two = (n: number) => String(n).padStart(2, "0");
  return `${Math.floor(s / 3600)}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}`;
}

/** Seconds from "90", "1:30" (minutes) or "1:02:30" (hours); null when it is none of them. */
export function seconds(text: string): number | null {
  const parts = text.trim().split(":");
  if (parts.length > 3 || parts.some((part) => !/^\d+(\.\d+)?$/.test(part))) return null;
  return parts.reduce((sum, part) => sum * 60 + Number(part), 0);
}

export function speedWord(speed: number): string {
  return speed === 1 ? "real time" : `${String(speed)}${HAIR}× real time`;
}

export function signalTitle(store: Store, name: string): string {
  const signal = store.signals.get(name);
  if (!signal) return name;
  return signal.kind === "estimate" && !/estimate/i.test(signal.title) ? `${signal.title} (estimate)` : signal.title;
}
