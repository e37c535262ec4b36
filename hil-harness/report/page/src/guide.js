// How to read the figures, said once.
import { el } from "./dom.js";

const LINES = [["solid", "what happened"], ["band", "least and greatest between two rows"], ["target", "what was asked for"], ["limit", "a limit"]];
const SHADES = [["night", "night"], ["twilight", "dusk and dawn: sun within 6° of the horizon"], ["event", "an event"]];

export function guide(compared) {
  const lines = compared ? [...LINES, ["other", "the run it is compared with"]] : LINES;
  return el("aside", { class: "guide" },
    el("ul", {},
      ...[...lines, ...SHADES].map(([name, words]) => el("li", {}, el("i", { class: `key key-${name}` }), words))),
    el("details", { class: "screen" }, el("summary", {}, "How to move in time"),
      el("p", {}, "Above a figure stands local solar time, below it the time since the start. Drag across a figure, or with a finger ",
        "across the strip, to zoom; double-click to see the whole run again. Point to read values; with nothing pointed at, the ",
        "legend gives the range of each line. Keys: arrows, + and −, 0.")));
}
