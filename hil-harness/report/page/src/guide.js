// How to read the figures, said once.
import { el } from "./dom.js";

const LINES = [["solid", "what happened"], ["target", "what was asked for"], ["limit", "a limit"]];
const SHADES = [["night", "night"], ["twilight", "dusk and dawn: sun within 6° of the horizon"], ["event", "an event, by its number"]];

export function guide(compared) {
  const lines = compared ? [...LINES, ["baseline", "the run it is compared with"]] : LINES;
  return el("aside", { class: "guide" },
    el("ul", {},
      ...lines.map(([name, words]) => el("li", {}, el("i", { class: `key key-${name}` }), words)),
      ...SHADES.map(([name, words]) => el("li", {}, el("i", { class: `key key-${name}` }), words))),
    el("p", { class: "screen" }, "Time runs in hours since the start; above each figure stands local solar time. ",
      "Drag across a figure, or with a finger across the strip, to zoom; double-click to see the whole run again. Point to read values; with ",
      "nothing pointed at, the legend gives the range of each line. Keys: arrows, + and −, 0."));
}
