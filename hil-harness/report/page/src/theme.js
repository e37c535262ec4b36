// Colours come from the style sheet, so that light, dark and print are decided in one place.

const NAMES = ["ink", "soft", "rule", "paper", "night", "twilight", "accent", "limit", "target", "baseline",
  "line1", "line2", "line3", "line4", "ramp1", "ramp2", "ramp3"];

export const DASHES = {
  value: [[], [9, 4], [2, 3], [10, 3, 2, 3], [5, 2], [14, 4], [2, 6]],
  target: [6, 4],
  limit: [12, 4, 3, 4],
  baseline: [14, 5],
};

export function colours() {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
}

function channels(hex) {
  return [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16));
}

function between(a, b, share) {
  const [from, to] = [channels(a), channels(b)];
  return `rgb(${from.map((value, i) => Math.round(value + share * (to[i] - value))).join(",")})`;
}

/** Colour of one of several places along an axis: an even ramp from dark to light. */
export function ramp(place, places, palette) {
  const share = places > 1 ? (place - 1) / (places - 1) : 0;
  return share < 0.5 ? between(palette.ramp1, palette.ramp2, 2 * share)
    : between(palette.ramp2, palette.ramp3, 2 * share - 1);
}

/** Stroke and dashes of a line; `order` counts the value lines of a panel. */
export function look(line, order, palette) {
  if (line.role === "limit") return { stroke: palette.limit, dash: DASHES.limit, width: 1.8 };
  if (line.role === "target") return { stroke: palette.target, dash: DASHES.target, width: 1.4 };
  if (line.role === "baseline") return { stroke: palette.baseline, dash: DASHES.baseline, width: 1.5 };
  if (line.place) {
    if (line.places === 2) return { stroke: palette.line4, dash: DASHES.value[line.place + 1], width: 1.6 };
    return { stroke: ramp(line.place, line.places, palette), dash: [], width: 1.3 };
  }
  const stroke = [palette.line1, palette.line2, palette.line3, palette.line4][order % 4];
  return { stroke, dash: DASHES.value[order % DASHES.value.length], width: 1.6 };
}
