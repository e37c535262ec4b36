// What a screen reader says without being asked: new alarms at once, results of acts when it has time.
import { useEffect, useState } from "preact/hooks";
import { isUnacknowledged, rankOf, useCall, useTopics, type Store } from "./store";

let speak: (text: string) => void = () => undefined;

export function announce(text: string): void {
  speak(text);
}

export function Announcer({ store }: { store: Store }) {
  useTopics(store, "alarms");
  const [result, setResult] = useState("");
  const [alarm, setAlarm] = useState("");
  const [known, setKnown] = useState<ReadonlySet<string>>(new Set());
  speak = setResult;
  useCall(store, ["link"], () => {
    if (!store.finished) setResult(!store.connected ? "The connection is lost." : store.stale ? "No data arrive." : "Data arrive.");
  });
  useEffect(() => {
    const open = store.alarms.filter(isUnacknowledged);
    const fresh = open.filter((a) => !known.has(a.name)).sort((a, b) => rankOf(store, b.name) - rankOf(store, a.name));
    if (fresh.length)
      setAlarm(`Alarm, ${fresh.slice(0, 3).map((a) => {
        const row = store.alarmsByName.get(a.name);
        return `${row?.priority ?? ""} priority: ${row?.title ?? a.name}`;
      }).join("; ")}${fresh.length > 3 ? `; and ${fresh.length - 3} more` : ""}.`);
    if (fresh.length || open.length !== known.size) setKnown(new Set(open.map((a) => a.name)));
  }, [store.alarms]);
  return (
    <>
      <p class="unseen" role="alert">{alarm}</p>
      <p class="unseen" role="status">{result}</p>
    </>
  );
}
