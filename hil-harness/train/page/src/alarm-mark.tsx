// Priority as a count of bars, so that it is read without colour: four urgent, three high, two medium, one low. Hollow
// bars: the alarm has been acknowledged.
import type { Priority } from "./protocol";

const BARS: Record<Priority, number> = { urgent: 4, high: 3, medium: 2, low: 1 };

export function AlarmMark({ priority, unacknowledged }: { priority: Priority; unacknowledged: boolean }) {
  return (
    <svg class={`alarm-mark is-${priority} ${unacknowledged ? "waits" : ""}`} viewBox="0 0 26 16" width="26" height="16"
      role="img" aria-label={`${priority} priority`}>
      {[0, 1, 2, 3].slice(0, BARS[priority]).map((i) => (
        <rect key={i} x={1.5 + 6 * i} y="1.5" width="4" height="13" />
      ))}
    </svg>
  );
}
