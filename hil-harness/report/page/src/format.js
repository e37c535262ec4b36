// Numbers and times as people read them. Instants are clocks ("15:22", local solar time), durations carry units
// ("12 h 06 min"), so that neither is taken for the other.

const MINUS = "\u2212";
export const SUPERSCRIPTS = { "-": "⁻", 0: "⁰", 1: "¹", 2: "²", 3: "³", 4: "⁴", 5: "⁵", 6: "⁶", 7: "⁷", 8: "⁸", 9: "⁹" };
const two = (number) => String(number).padStart(2, "0");

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
  if (Math.abs(value) >= 1e-3 && Math.abs(value) < 1e7) return String(Number(value.toPrecision(4))).replace("-", MINUS);
  const [digits, power] = value.toExponential(3).split("e");
  return `${Number(digits)}×10${[...String(Number(power))].map((c) => SUPERSCRIPTS[c]).join("")}`.replace("-", MINUS);
}

export function withUnit(text, unit) {
  return unit && unit !== "1" ? `${text}\u00a0${unit}` : text;
}

/** A difference, with its sign. */
export function signed(value) {
  return typeof value === "number" && value > 0 ? `+${plain(value)}` : plain(value);
}

/** A duration of hours: "12 h 06 min", "5 min 20 s", "45 s"; seconds only below an hour, or when `fine`. */
export function duration(hours, fine = false) {
  let seconds = Math.round(hours * 3600);
  if (!fine && seconds >= 3600) seconds = Math.round(seconds / 60) * 60;
  const h = Math.floor(seconds / 3600);
  const min = Math.floor((seconds % 3600) / 60);
  const s = seconds % 60;
  if (h) return `${h} h ${two(min)} min${s ? ` ${two(s)} s` : ""}`;
  if (min) return `${min} min${s ? ` ${two(s)} s` : ""}`;
  return `${s} s`;
}

/** A duration as an axis of that step (h) writes it: "6 h", "6 h 30", "90 s". */
export function axisDuration(hours, step) {
  const seconds = Math.round(hours * 3600);
  if (step >= 1) return `${Math.round(hours)} h`;
  const h = Math.floor(seconds / 3600);
  const min = Math.floor((seconds % 3600) / 60);
  if (step >= 1 / 60) return h ? `${h} h ${two(min)}` : `${min} min`;
  return h || min ? `${h * 60 + min} min ${two(seconds % 60)}` : `${seconds} s`;
}

/** Local solar time of unwrapped local hours: "18:05". */
export function clock(localHours) {
  const minutes = Math.floor((((localHours % 24) + 24) % 24) * 60 + 1e-6);
  return `${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
}
