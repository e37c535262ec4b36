// Local solar time beside the time since the start. The trace gives pairs of both; between them it runs evenly.
import { clock, duration } from "./format.js";

const STEPS = [1 / 60, 1 / 30, 1 / 12, 1 / 6, 0.25, 0.5, 1, 2, 3, 6, 12, 24, 48, 120, 240, 720, 2400, 7200];

function interpolate(from, to, x) {
  let i = 1;
  while (i < from.length - 1 && from[i] < x) i += 1;
  const share = (x - from[i - 1]) / (from[i] - from[i - 1]);
  return to[i - 1] + share * (to[i] - to[i - 1]);
}

export class LocalTime {
  constructor(pairs) {
    this.known = pairs !== null && pairs.time.length > 1;
    if (!this.known) return;
    this.since = pairs.time.map((seconds) => seconds / 3600);
    this.local = pairs.hours;
  }

  /** Local hours, counted on through midnights. */
  at(sinceStart) {
    return interpolate(this.since, this.local, sinceStart);
  }

  /** How the page writes an instant: "15:22", from the second sol on "sol 2, 15:22"; without weather, time since the start. */
  word(sinceStart) {
    if (!this.known) return `after ${duration(sinceStart, true)}`;
    const local = this.at(sinceStart);
    const sol = Math.floor((local + 1e-6) / 24) - Math.floor(this.local[0] / 24) + 1;
    return sol > 1 ? `sol ${sol}, ${clock(local)}` : clock(local);
  }

  /** Places (h since start) and words of round local times between two instants. */
  ticks(from, to, most) {
    if (!this.known || !(to > from)) return [];
    const first = this.at(from);
    const last = this.at(to);
    const step = STEPS.find((candidate) => (last - first) / candidate <= most) ?? STEPS[STEPS.length - 1];
    const ticks = [];
    for (let n = Math.ceil(first / step); n * step <= last; n += 1) {
      const local = n * step;
      ticks.push({ at: interpolate(this.local, this.since, local),
        word: step >= 24 ? `sol ${Math.floor(local / 24) - Math.floor(this.local[0] / 24) + 1}` : clock(local + 1e-9) });
    }
    return ticks;
  }
}
