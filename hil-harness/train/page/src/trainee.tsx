// What trainees see, late by the light time, beside what is: times, mode, values and alarms in two columns.
import { useEffect, useState } from "preact/hooks";
import { AlarmMark } from "./alarm-mark";
import { fetchPlant } from "./link";
import { Panel } from "./panel";
import type { AlarmState } from "./protocol";
import { Store, isOpen, isUnacknowledged, useTopics } from "./store";
import { amount, duration, instant, signalTitle, withUnit } from "./words";

/** The trainees' side of the session while it is asked for. */
export function useTraineeStore(wanted: boolean): Store | null {
  const [store, setStore] = useState<Store | null>(null);
  useEffect(() => {
    if (!wanted) return undefined;
    let made: Store | null = null;
    let over = false;
    fetchPlant("trainee").then((plant) => {
      if (over) return;
      made = new Store(plant, "trainee");
      made.start();
      setStore(made);
    }, () => undefined);
    return () => { over = true; made?.stop(); setStore(null); };
  }, [wanted]);
  return store;
}

function Alarms({ store }: { store: Store }) {
  const open = store.alarms.filter(isOpen);
  if (open.length === 0) return <span class="soft">none</span>;
  const word = (alarm: AlarmState) => store.alarmsByName.get(alarm.name);
  return (
    <ul class="plain-list">
      {open.map((alarm) => (
        <li key={alarm.name}>
          <AlarmMark priority={word(alarm)?.priority ?? "low"} unacknowledged={isUnacknowledged(alarm)} /> {word(alarm)?.title ?? alarm.name}
          <small>{alarm.state}, since {instant(store.plant, alarm.since)}</small>
        </li>
      ))}
    </ul>
  );
}

export function Beside({ present, trainee }: { present: Store; trainee: Store }) {
  useTopics(present, "frame", "alarms", "session");
  useTopics(trainee, "frame", "alarms");
  const names = [...(trainee.plant.margins?.cells ?? trainee.plant.module_cards?.cards ?? []).map((one) => one.margin), ...trainee.plant.commands.flatMap((c) => (c.signal ? [c.signal] : []))];
  const value = (store: Store, name: string) => {
    const signal = store.signals.get(name), now = store.value(name);
    return signal && now !== null ? withUnit(amount(signal, now), signal.unit) : "\u2013";
  };
  const mode = (store: Store) => store.modes.get(store.frame?.mode ?? "")?.title ?? "\u2013";
  const rows: [string, (store: Store) => string][] = [
    ["Time", (store) => (store.frame ? instant(store.plant, store.now, true) : "\u2013")], ["Mode", mode],
    ...names.map((name): [string, (store: Store) => string] => [signalTitle(trainee, name), (store) => value(store, name)])];
  const late = trainee.frame ? present.now - trainee.now : null;
  return (
    <Panel id="beside" title="Trainees and now"
      note={late === null ? "nothing has reached the trainees yet" : late < -present.plant.period ? "trainees still see what was before the session went back" : late < 2 * present.plant.period ? "no light time" : `trainees are ${duration(late / 3600)} behind`}>
      <div class="scroll">
        <table class="beside">
          <thead><tr><th scope="col"><span class="unseen">What</span></th><th scope="col">trainees see</th><th scope="col">now</th></tr></thead>
          <tbody>
            {rows.map(([title, text]) => (
              <tr key={title} class={text(trainee) === text(present) ? "" : "differs"}><th scope="row">{title}</th><td>{text(trainee)}</td><td>{text(present)}</td></tr>
            ))}
            <tr><th scope="row">Alarms</th><td><Alarms store={trainee} /></td><td><Alarms store={present} /></td></tr>
          </tbody>
        </table>
      </div>
    </Panel>
  );
}
