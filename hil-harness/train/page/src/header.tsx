// One line that never scrolls away: what runs, when it is there, how fast, in which mode, how old the values are.
import { report } from "./announce";
import { post } from "./link";
import { useTopics, urgent, type Store } from "./store";
import { duration, instant, since, speedWord } from "./words";
import { AlarmMark } from "./alarm-mark";
import type { Sound } from "./sound";

function Link({ store }: { store: Store }) {
  useTopics(store, "link", "frame", "session");
  if (store.finished) return null;
  if (!store.connected) return <span class="fact warn"><b>No connection</b> {store.lostBecause || "trying again"}</span>;
  if (store.stale) return <span class="fact warn"><b>No data</b> for {Math.round(store.silentFor())} s</span>;
  const { delay } = store.session;
  if (delay > 0) return <span class="fact"><b>{duration(delay / 3600)}</b> light time each way</span>;
  return null;
}

export function Header({ store, onKeys }: { store: Store; onKeys: () => void }) {
  useTopics(store, "frame", "session");
  const { plant, frame } = store;
  const mode = store.modes.get(frame?.mode ?? "")?.title ?? frame?.mode ?? "–";
  return (
    <header class="top">
      <h1>{plant.exercise?.title ?? plant.scenario.title}<small>{plant.role}</small></h1>
      <div class="facts">
        <span class="fact"><b class="clock">{instant(plant, store.now, true)}</b> after {since(store.now)}</span>
        <span class="fact"><b>{mode}</b> mode</span>
        <span class={`fact ${store.frozen ? "held" : ""}`}>
          <b>{store.finished ? "Finished" : store.frozen ? "Frozen" : "Running"}</b>{" "}
          {store.finished ? "" : store.frozen && store.now < 2 * store.plant.period ? "until the instructor starts the run" : speedWord(store.speed)}
        </span>
        <Link store={store} />
        {store.finished && <a class="act" href="/api/debrief">Debrief</a>}
        <button type="button" class="plain" onClick={onKeys} aria-label="Keys and help">?</button>
      </div>
    </header>
  );
}

export async function acknowledge(store: Store, name: string): Promise<string> {
  store.acknowledged.set(name, Infinity);
  const { problem, at } = await post("alarm", { name, act: "acknowledge" });
  if (problem) store.acknowledged.delete(name);
  else store.acknowledged.set(name, at ?? store.now);
  report(problem, `Acknowledgement of ${store.alarmsByName.get(name)?.title ?? name} sent.`);
  store.notify("alarms");
  return problem;
}

/** Or that it was sent: it counts when the controller has it. */
export function AcknowledgeButton({ store, name }: { store: Store; name: string }) {
  if (!store.mayAct) return null;
  return store.acknowledged.has(name) ? <span class="soft">sent</span>
    : <button type="button" class="act" onClick={() => void acknowledge(store, name)}>Acknowledge</button>;
}

/** The most urgent alarm, the number of others, and the switch of the sound. */
export function AlarmLine({ store, sound }: { store: Store; sound: Sound }) {
  useTopics(store, "alarms", "view");
  const waiting = urgent(store);
  const first = waiting.find((alarm) => !store.acknowledged.has(alarm.name)) ?? waiting[0];
  const row = first && store.alarmsByName.get(first.name);
  return (
    <div class={`alarm-line ${row ? `is-${row.priority}` : ""}`} role="region" aria-label="Most urgent alarm">
      {first ? (
        <>
          <AlarmMark priority={row?.priority ?? "low"} unacknowledged />
          <strong>{row?.title ?? first.name}</strong>
          {first.first_out && <span class="first-out">first</span>}
          <span class="response">{row?.response}</span>
          <AcknowledgeButton store={store} name={first.name} />
          {waiting.length > 1 && <span class="soft">and {waiting.length - 1} more</span>}
        </>
      ) : <span class="soft">No alarm waits to be acknowledged.</span>}
      <span class="spacer" />
      {sound.on && waiting.length > 0 && (
        <button type="button" class="plain" onClick={() => sound.silence()}>Silence</button>
      )}
      <button type="button" class="plain" onClick={() => sound.toggle()}>
        Sound {sound.on ? "on" : "off"}
      </button>
    </div>
  );
}
