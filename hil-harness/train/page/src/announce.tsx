// What a screen reader says without being asked: new alarms at once, results of acts when it has time.
import { useEffect, useState } from "preact/hooks";
import { isUnacknowledged, rankOf, useCall, useTopics, type Store } from "./store";

interface Said {
  text: string;
  problem: boolean;
  turn: boolean;  ///< the same words again are another text, so that they are spoken again
}

let speak: (text: string, problem: boolean) => void = () => undefined;

export function announce(text: string): void {
  speak(text, false);
}

/** What came of an act: a problem is seen as well until something else is said. */
export function report(problem: string, done: string): void {
  speak(problem || done, problem !== "");
}

const again = (before: Said, text: string, problem = false): Said => ({ text, problem, turn: !before.turn });
const words = ({ text, turn }: Said) => (turn ? text : `${text}\u00a0`);
const NOTHING: Said = { text: "", problem: false, turn: true };

export function Announcer({ store }: { store: Store }) {
  useTopics(store, "alarms");
  const [result, setResult] = useState(NOTHING);
  const [alarm, setAlarm] = useState(NOTHING);
  const [known, setKnown] = useState<ReadonlySet<string>>(new Set());
  const say = (text: string, problem: boolean) => setResult((before) => again(before, text, problem));
  speak = say;
  useCall(store, ["link"], () => {
    if (!store.finished) say(!store.connected ? "The connection is lost." : store.stale ? "No data arrive." : "Data arrive.", false);
  });
  useEffect(() => {
    const open = store.alarms.filter(isUnacknowledged);
    const fresh = open.filter((a) => !known.has(a.name)).sort((a, b) => rankOf(store, b.name) - rankOf(store, a.name));
    if (fresh.length)
      setAlarm((before) => again(before, `Alarm, ${fresh.slice(0, 3).map((a) => {
        const row = store.alarmsByName.get(a.name);
        return `${row?.priority ?? ""} priority: ${row?.title ?? a.name}`;
      }).join("; ")}${fresh.length > 3 ? `; and ${fresh.length - 3} more` : ""}.`));
    if (fresh.length || open.length !== known.size) setKnown(new Set(open.map((a) => a.name)));
  }, [store.alarms]);
  return (
    <>
      <p class="unseen" role="alert">{words(alarm)}</p>
      <p class={result.problem ? "result warn" : "unseen"} role="status">
        {words(result)}
        {result.problem && <button type="button" class="plain" onClick={() => setResult(NOTHING)}>Close</button>}
      </p>
    </>
  );
}
