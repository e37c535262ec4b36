// Local solar time beside the time since the start. The trace gives pairs of both; between them it runs evenly.

const STEPS = [1 / 12, 1 / 6, 0.25, 0.5, 1, 2, 3, 6, 12, 24, 48, 120, 240, 720, 2400, 7200];

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

  /** Places (h since start) and words of round local times between two instants. */
  ticks(from, to, most) {
    if (!this.known || !(to > from)) return [];
    const first = this.at(from);
    const last = this.at(to);
    const step = STEPS.find((candidate) => (last - first) / candidate <= most) ?? STEPS[STEPS.length - 1];
    const ticks = [];
    for (let n = Math.ceil(first / step); n * step <= last; n += 1) {
      const local = n * step;
      const h = ((local % 24) + 24) % 24;
      const minutes = Math.round(h * 60);
      const word = step >= 24 ? `sol ${Math.floor(local / 24) + 1}`
        : `${String(Math.floor(minutes / 60)).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;
      ticks.push({ at: interpolate(this.local, this.since, local), word });
    }
    return ticks;
  }
}
