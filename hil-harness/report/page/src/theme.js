// Colours come from the style sheet, so that light, dark and print are decided in one place (palette.css).

const NAMES = ["ink", "soft", "rule", "paper", "night", "twilight", "accent", "limit", "target", "other",
  "line1", "line2", "line3", "line4", "tone-rest", "tone-change", "tone-run", "tone-warn", "tone-bad", "tone-cause", "tone-act"];

export const DASHES = {
  value: [[], [9, 3], [2, 3]],
  target: [6, 4],
  limit: [12, 4, 3, 4],
  other: [14, 5],
};

export function colours() {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
}

/** Four colours, then the same four dashed, then dotted: eight cells differ by colour or by dashes. */
function ordinal(order, palette) {
  const stroke = [palette.line1, palette.line2, palette.line3, palette.line4][order % 4];
  return { stroke, dash: DASHES.value[Math.floor(order / 4) % DASHES.value.length] };
}

/** Stroke and dashes of a line; `order` counts the value lines of a panel. */
export function look(line, order, palette) {
  if (line.role === "limit") return { stroke: palette.limit, dash: DASHES.limit, width: 1.8 };
  if (line.role === "target") return { stroke: palette.target, dash: DASHES.target, width: 1.3 };
  if (line.role === "other") return { stroke: palette.other, dash: DASHES.other, width: 1.8 };
  return { ...ordinal(order, palette), width: 1.6 };
}

/** The looks of all lines of a panel, in order. */
export function looks(panel, palette) {
  let order = 0;
  return panel.lines.map((line) => {
    if (line.role.startsWith("band")) return { stroke: palette.line1, dash: [], width: 1, band: true };
    return look(line, line.role === "value" ? order++ : order, palette);
  });
}
