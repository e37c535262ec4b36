// The alarm list in the states of ISA-18.2: acknowledge, shelve with time and reason, sort, first-out, what to do.
import { useEffect, useState } from "preact/hooks";
import { AlarmMark } from "./alarm-mark";
import { announce, report } from "./announce";
import { AcknowledgeButton } from "./header";
import { post } from "./link";
import { marksBetween } from "./marks";
import { Panel } from "./panel";
import type { Alarm, AlarmState } from "./protocol";
import { byUrgency, isOpen, isShelved, isUnacknowledged, useTopics, type Store } from "./store";
import { instant, since } from "./words";

type Order = "urgency" | "time" | "name";
type Show = "open" | "shelved" | "all";

const FLOOD = 10;          // alarms in ten minutes (ISA-18.2)
const FLOOD_SPAN = 600;    // s
const SHELVE_TIMES = [15, 30, 60, 120];  // min

function sorted(store: Store, alarms: AlarmState[], order: Order): AlarmState[] {
  const title = (a: AlarmState) => store.alarmsByName.get(a.name)?.title ?? a.name;
  return [...alarms].sort((a, b) => (order === "urgency" && byUrgency(store)(a, b))
    || (order === "name" && title(a).localeCompare(title(b))) || b.since - a.since);
}

function ShelveForm({ name, onDone }: { name: string; onDone: (problem: string) => void }) {
  const [minutes, setMinutes] = useState(30);
  const [reason, setReason] = useState("");
  const send = async (event: Event) => {
    event.preventDefault();
    onDone((await post("alarm", { name, act: "shelve", minutes, reason })).problem);
  };
  return (
    <form class="shelve" onSubmit={(event) => void send(event)}>
      <label>for <select value={minutes} onChange={(e) => setMinutes(Number(e.currentTarget.value))}>
        {SHELVE_TIMES.map((m) => <option key={m} value={m}>{m} min</option>)}
      </select></label>
      <label>because <input required maxLength={200} value={reason} onInput={(e) => setReason(e.currentTarget.value)} /></label>
      <button type="submit" class="act">Shelve</button>
    </form>
  );
}

function Details({ alarm }: { alarm: Alarm }) {
  const rows: [string, string | number | null | undefined][] = [["Condition", alarm.text === alarm.consequence ? "" : alarm.text], ["Cause", alarm.cause],
    ["Consequence", alarm.consequence], ["What to do", alarm.response], ["Time to respond", alarm.time_to_respond]];
  return (
    <dl class="alarm-details">
      {rows.filter(([, text]) => text != null && text !== "").map(([word, text]) => (
        <div key={word}><dt>{word}</dt><dd>{typeof text === "number" ? since(text) : text}</dd></div>
      ))}
    </dl>
  );
}

function AlarmRow({ store, state }: { store: Store; state: AlarmState }) {
  const [open, setOpen] = useState(false);
  const [shelving, setShelving] = useState(false);
  const [problem, setProblem] = useState("");
  const row = store.alarmsByName.get(state.name);
  const act = async (what: string, word: string) => {
    const reply = await post("alarm", { name: state.name, act: what });
    setProblem(reply.problem);
    if (!reply.problem) announce(`${row?.title ?? state.name} ${word}.`);
  };
  const unacknowledged = isUnacknowledged(state);
  return (
    <li class={`alarm is-${row?.priority ?? "low"} ${unacknowledged ? "waits" : ""}`} data-alarm={state.name}>
      <AlarmMark priority={row?.priority ?? "low"} unacknowledged={unacknowledged} />
      <div class="alarm-text">
        <button type="button" class="link" aria-expanded={open} onClick={() => setOpen(!open)}>{row?.title ?? state.name}</button>
        {state.first_out && <span class="first-out">first</span>}
        <small>
          {state.state}
          {state.state !== "normal" && `, since ${instant(store.plant, state.since)}`}
          {state.value != null && `, ${state.value}`}
          {state.shelved_until != null && `, until ${instant(store.plant, state.shelved_until)}`}
        </small>
        {problem && <small class="warn" role="alert">{problem}</small>}
      </div>
      {store.mayAct && (
        <div class="alarm-acts">
          {unacknowledged && <AcknowledgeButton store={store} name={state.name} />}
          {state.state.startsWith("latched") && !unacknowledged && <button type="button" class="act" onClick={() => void act("reset", "reset")}>Reset</button>}
          {isShelved(state) ? <button type="button" class="act" onClick={() => void act("unshelve", "no longer shelved")}>Unshelve</button>
            : isOpen(state) && <button type="button" class="plain" aria-expanded={shelving} onClick={() => setShelving(!shelving)}>Shelve</button>}
        </div>
      )}
      {shelving && <ShelveForm name={state.name} onDone={(text) => {
        setProblem(text);
        setShelving(text !== "");
        if (!text) announce(`${row?.title ?? state.name} shelved.`);
      }} />}
      {open && row && <Details alarm={row} />}
      {open && store.plant.role === "instructor" && (
        <p class="alarm-details">
          {state.state === "out of service"
            ? <button type="button" class="plain" onClick={() => void act("return", "returned to service")}>Return to service</button>
            : <button type="button" class="plain" onClick={() => void act("remove", "taken out of service")}>Take out of service</button>}
        </p>
      )}
    </li>
  );
}

function useEverySecond(): void {
  const [, draw] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => draw((n) => n + 1), 1000);
    return () => clearInterval(timer);
  }, []);
}

export function AlarmPanel({ store }: { store: Store }) {
  useTopics(store, "alarms", "log");
  useEverySecond();  // a flood ends by time alone
  const [order, setOrder] = useState<Order>("urgency");
  const [show, setShow] = useState<Show>("open");
  const known = new Set(store.alarms.map((a) => a.name));
  const rest = store.plant.alarms.filter((a) => !known.has(a.name)).map((a): AlarmState => ({ name: a.name, state: "normal", since: 0 }));
  const pick: Record<Show, AlarmState[]> = { open: store.alarms.filter(isOpen), shelved: store.alarms.filter((a) => isShelved(a) || a.state === "out of service"),
    all: [...store.alarms, ...rest] };
  const waiting = store.alarms.filter(isUnacknowledged);
  const acknowledgeAll = async () => {
    const { problem } = await post("alarm", { act: "acknowledge-all" });
    report(problem, "Acknowledgement of all alarms sent.");
  };
  const shown = sorted(store, pick[show], order);
  const recent = marksBetween(store, (store.now - FLOOD_SPAN) / 3600, store.now / 3600).filter((entry) => entry.kind === "alarm").length;
  const count = pick.open.length;
  return (
    <Panel id="alarms" title="Alarms" note={count === 0 ? "none stands" : `${count} stand${count === 1 ? "s" : ""}`}
      aside={
        <div class="choices">
          {store.mayAct && waiting.length > 2 && (
            <button type="button" class="plain" onClick={() => void acknowledgeAll()}>Acknowledge all {waiting.length}</button>
          )}
          <label><span class="unseen">Show</span>
            <select value={show} onChange={(e) => setShow(e.currentTarget.value as Show)}>
              <option value="open">open</option><option value="shelved">shelved ({pick.shelved.length})</option><option value="all">all</option>
            </select></label>
          <label>by <select value={order} onChange={(e) => setOrder(e.currentTarget.value as Order)}>
            <option value="urgency">urgency</option><option value="time">time</option><option value="name">name</option>
          </select></label>
        </div>
      }>
      {recent >= FLOOD && <p class="warn">{recent} alarms in the last 10 minutes: a flood. Begin with the one marked “first”.</p>}
      {shown.length === 0 ? <p class="soft">{show === "open" ? "No alarm stands." : "None."}</p>
        : <ul class="alarms">{shown.map((state) => <AlarmRow key={state.name} store={store} state={state} />)}</ul>}
    </Panel>
  );
}
