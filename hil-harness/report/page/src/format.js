// Numbers and times as people read them.

const MINUS = "\u2212";

/** Decimals with which values up to `largest` show about four digits. */
export function decimalsFor(largest) {
  if (!(largest > 0)) return 0;
  return Math.min(6, Math.max(0, 3 - Math.floor(Math.log10(largest))));
}

export function fixed(value, decimals) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const text = Math.abs(value).toFixed(decimals);
  return value < 0 && Number(text) !== 0 ? MINUS + text : text;
}

/** A number of unknown size, with four digits. */
export function plain(value) {
  if (typeof value !== "number") return value === null || value === undefined ? "–" : String(value);
  if (Number.isInteger(value) && Math.abs(value) < 1e6) return String(value).replace("-", MINUS);
  const text = String(Number(value.toPrecision(4)));
  return text.replace(/-/g, MINUS);
}

/** Hours since the start, to the second where that is needed. */
export function sinceStart(hours, fine = true) {
  const seconds = Math.round(hours * 3600);
  const h = Math.floor(seconds / 3600);
  const min = Math.floor((seconds % 3600) / 60);
  const s = seconds % 60;
  const rest = fine && s ? ` ${s} s` : "";
  return h ? `${h} h ${String(min).padStart(2, "0")} min${rest}` : `${min} min${rest}`;
}

/** Hours since the start as an axis of that step writes them: "6 h", "6:30 h", "6:30:05 h". */
export function hoursWord(hours, step) {
  const seconds = Math.round(hours * 3600);
  const two = (number) => String(number).padStart(2, "0");
  const minutes = step < 1 ? `:${two(Math.floor((seconds % 3600) / 60))}` : "";
  const rest = step < 1 / 60 ? `:${two(seconds % 60)}` : "";
  return `${Math.floor(seconds / 3600)}${minutes}${rest} h`;
}

/** Local solar time of unwrapped local hours: "18:05". */
export function clock(localHours) {
  const minutes = Math.floor((((localHours % 24) + 24) % 24) * 60 + 1e-6);
  const h = Math.floor(minutes / 60);
  return `${String(h).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;
}
