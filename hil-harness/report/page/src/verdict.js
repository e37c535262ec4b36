// Verdicts: a sign that needs no colour, and the word.
import { el } from "./dom.js";

const LOOK = {
  satisfied: ["good", "✓"], good: ["good", "✓"],
  violated: ["bad", "✕"], bad: ["bad", "✕"],
  close: ["warn", "△"], undecided: ["warn", "?"], "not exercised": ["warn", "–"],
};

export function verdictLook(word) {
  const [tone, sign] = LOOK[word] ?? ["warn", "△"];
  return { tone, sign };
}

export function verdictCell(word) {
  if (!word) return el("td", {});
  const { tone, sign } = verdictLook(word);
  return el("td", { class: `verdict ${tone}` }, el("span", { "aria-hidden": "true" }, `${sign} `), word);
}
