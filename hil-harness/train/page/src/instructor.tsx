// The instructor's side: time, earlier minutes, saved states, light time, faults, weather, requirements so far.
import { useState } from "preact/hooks";
import { report } from "./announce";
import { Confirm } from "./confirm";
import { Grades } from "./lesson";
import { post } from "./link";
import { Panel } from "./panel";
import type { Disturbance } from "./protocol";
import { useTopics, type Store } from "./store";
import { duration, hms, instant, range, seconds, since, speedWord, withUnit } from "./words";

const SPEEDS = [0.5, 1, 5, 20, 60, 200, 600];
const BACK = [1, 5, 15, 60];   // min
const FARTHEST = 24;           // min of light time each way

export async function instruct(body: object, said: string): Promise<string> {
  const { problem } = await post("instructor", body);
  report(problem, said);
  return problem;
}

export const freezeOrGo = (store: Store) =>
  store.frozen ? instruct({ act: "go" }, "Running.") : instruct({ act: "freeze" }, "Frozen.");

type Run = (body: object, said: string) => void;

function TimeBlock({ store, run }: { store: Store; run: Run }) {
  const { speed } = store;
  return (
    <fieldset>
      <legend>Time</legend>
      <div class="row">
        <button type="button" class="act" onClick={() => run(store.frozen ? { act: "go" } : { act: "freeze" }, store.frozen ? "Running." : "Frozen.")}>
          {store.frozen ? "Go" : "Freeze"}
        </button>
        <label>Speed <select value={String(speed)} onChange={(e) => run({ act: "speed", value: Number(e.currentTarget.value) }, "Speed set.")}>
          {[...new Set([...SPEEDS, speed])].sort((a, b) => a - b).map((s) => <option key={s} value={String(s)}>{speedWord(s)}</option>)}
        </select></label>
        <Finish run={run} />
        {typeof store.frame?.clients === "number" && <span class="soft">{store.frame.clients} connected</span>}
      </div>
    </fieldset>
  );
}

function Finish({ run }: { run: Run }) {
  const [asking, setAsking] = useState(false);
  return asking ? (
    <Confirm text="Finish the run for everybody?" onYes={() => { setAsking(false); run({ act: "finish" }, "Finished."); }}
      onNo={() => setAsking(false)} back="finish" />
  ) : <button type="button" id="finish" class="plain" onClick={() => setAsking(true)}>Finish</button>;
}

function BackBlock({ store, run }: { store: Store; run: Run }) {
  const [text, setText] = useState("");
  const [problem, setProblem] = useState("");
  const back = (t: number) => run({ act: "back", t: Math.max(0, t) }, `Back at ${since(Math.max(0, t))}.`);
  const send = (event: Event) => {
    event.preventDefault();
    const t = seconds(text);
    if (t === null || t > store.now) return setProblem(`Type a time since the start before ${hms(store.now)}, for example 0:12:00.`);
    setProblem("");
    return back(t);
  };
  return (
    <fieldset>
      <legend>Earlier minute</legend>
      <p class="soft">The run continues from there; what came after it stays in the session's file for the debrief.</p>
      <div class="row">
        {BACK.map((m) => (
          <button key={m} type="button" class="plain" disabled={store.now < 60 * m} onClick={() => back(store.now - 60 * m)}>back {m} min</button>
        ))}
        <form onSubmit={send} class="row">
          <label>to <input size={8} placeholder="h:mm:ss" value={text} onInput={(e) => setText(e.currentTarget.value)} aria-invalid={problem !== ""} /></label>
          <button type="submit" class="act">Go back</button>
        </form>
      </div>
      {problem && <small class="warn" role="alert">{problem}</small>}
    </fieldset>
  );
}

function SavedBlock({ store, run }: { store: Store; run: Run }) {
  const [name, setName] = useState("");
  return (
    <fieldset>
      <legend>Saved states</legend>
      <form class="row" onSubmit={(event) => {
        event.preventDefault();
        if (name.trim()) run({ act: "save", name: name.trim() }, `Saved as ${name.trim()}.`);
        setName("");
      }}>
        <label>Name <input size={14} maxLength={60} value={name} onInput={(e) => setName(e.currentTarget.value)} /></label>
        <button type="submit" class="act">Save now</button>
      </form>
      <ul class="plain-list">
        {store.session.saved.map((state) => (
          <li key={state.name}>
            <span class="clock">{instant(store.plant, state.t)}</span> {state.name}
            <button type="button" class="plain" onClick={() => run({ act: "restore", name: state.name }, `Restored ${state.name}.`)}>Restore</button>
          </li>
        ))}
      </ul>
    </fieldset>
  );
}

function DelayBlock({ store, run }: { store: Store; run: Run }) {
  const minutes = store.session.delay / 60;
  const [text, setText] = useState(String(minutes));
  return (
    <fieldset>
      <legend>Light time</legend>
      <form class="row" onSubmit={(event) => {
        event.preventDefault();
        const value = Number(text);
        if (text.trim() !== "" && value >= 0 && value <= FARTHEST) run({ act: "delay", value: value * 60 }, `Light time ${value} min each way.`);
      }}>
        <label><input type="number" required min={0} max={FARTHEST} step="any" value={text} onInput={(e) => setText(e.currentTarget.value)} /> min each way</label>
        <button type="submit" class="act">Set</button>
        <span class="soft">now {minutes === 0 ? "none" : duration(minutes / 60)}</span>
      </form>
    </fieldset>
  );
}

interface DisturbanceProps {
  list: Disturbance[];
  act: "fault" | "weather";
  legend: string;
  store: Store;
  run: Run;
}

function DisturbanceBlock({ list, act, legend, store, run }: DisturbanceProps) {
  const [name, setName] = useState(list[0]?.name ?? "");
  const [item, setItem] = useState(1);
  const [module, setModule] = useState(1);
  const [size, setSize] = useState("");
  const [after, setAfter] = useState("");
  const [ramp, setRamp] = useState("");
  const [when, setWhen] = useState("");
  const [problem, setProblem] = useState("");
  const row = list.find((d) => d.name === name);
  if (!row) return null;
  const sized = row.low != null || row.high != null;
  const send = (event: Event) => {
    event.preventDefault();
    const value = size.trim() === "" ? undefined : Number(size.replace(",", ".").replace("\u2212", "-"));
    if (value !== undefined && (!Number.isFinite(value) || (row.low != null && value < row.low) || (row.high != null && value > row.high)))
      return setProblem(`Outside its limits, ${range(row.low, row.high, row.unit)}.`);
    if (sized && value === undefined && row.value == null) return setProblem("Type a number.");
    const [delay, long] = [after, ramp].map((text) => (text.trim() === "" ? 0 : seconds(text)));
    if (delay == null || long == null) return setProblem("Times are written 90 (s), 1:30 (min) or 1:00:00 (h).");
    setProblem("");
    const body = { act, name, ...(row.items ? { item } : {}), ...(row.modules && module > 0 ? { module } : {}), ...(value === undefined ? {} : act === "fault" ? { size: value } : { value }),
      ...(delay ? { at: store.now + delay } : {}), ...(row.ramp ? { ramp: long } : {}),
      ...(when.trim() ? { when: when.trim() } : {}) };
    return run(body, `${row.title} ${when.trim() ? "waits for its condition" : delay ? `in ${duration(delay / 3600)}` : "set"}.`);
  };
  const groups = [...new Set(list.map((d) => d.group ?? ""))];
  const options = (group: string) => list.filter((d) => (d.group ?? "") === group).map((d) => <option key={d.name} value={d.name}>{d.title}</option>);
  return (
    <fieldset>
      <legend>{legend}</legend>
      <form class="disturbance" onSubmit={send}>
        <label class="wide"><span class="unseen">{legend}</span>
          <select value={name} onChange={(e) => { setName(e.currentTarget.value); setSize(""); setProblem(""); }}>
            {groups.length > 1 ? groups.map((g) => <optgroup key={g} label={g || "other"}>{options(g)}</optgroup>) : options(groups[0] ?? "")}
          </select></label>
        {row.text && <p class="soft wide">{row.text}</p>}
        {row.modules ? (
          <label>module <select value={module} onChange={(e) => setModule(Number(e.currentTarget.value))}>
            {Array.from({ length: row.modules }, (_, i) => <option key={i} value={i + 1}>{i + 1}</option>)}
            <option value={0}>all</option>
          </select></label>
        ) : null}
        {row.items ? (
          <label>{row.item_word ?? "item"} <select value={item} onChange={(e) => setItem(Number(e.currentTarget.value))}>
            {Array.from({ length: row.items }, (_, i) => <option key={i} value={i + 1}>{i + 1}</option>)}
          </select></label>
        ) : null}
        {sized && (
          <label>size <input size={8} inputMode="decimal" value={size} placeholder={row.value == null ? "" : String(row.value)} onInput={(e) => setSize(e.currentTarget.value)} />
            <small>{range(row.low, row.high, row.unit)}</small></label>
        )}
        <label>in <input size={7} placeholder="0" value={after} onInput={(e) => setAfter(e.currentTarget.value)} /><small>from now, m:ss</small></label>
        {row.ramp && <label>ramp <input size={7} placeholder="0" value={ramp} onInput={(e) => setRamp(e.currentTarget.value)} /><small>m:ss</small></label>}
        <label class="wide">when <input class="condition" maxLength={500} value={when} placeholder="at once" onInput={(e) => setWhen(e.currentTarget.value)} />
          <small>a condition in the language of requirements, for example: always for 5 min (mode is production)</small></label>
        <button type="submit" class="act">{act === "fault" ? "Inject" : "Set"}</button>
      </form>
      {problem && <small class="warn" role="alert">{problem}</small>}
    </fieldset>
  );
}

function ActiveFaults({ store, run }: { store: Store; run: Run }) {
  const active = store.session.faults ?? [];
  const titles = new Map([...store.plant.faults, ...store.plant.weather].map((f) => [f.name, f]));
  return (
    <fieldset>
      <legend>Faults and weather that act or will act</legend>
      {active.length === 0 && <p class="soft">None.</p>}
      <ul class="plain-list">
        {active.map((fault) => {
          const row = titles.get(fault.name);
          const which = (fault.item ? ` ${row?.item_word ?? "item"} ${fault.item}` : "") + (fault.module ? ` of module ${fault.module}` : "");
          return (
            <li key={`${fault.name}${which}${fault.when ?? ""}`}>
              {fault.from !== undefined && !fault.waits && !fault.when && <span class="clock">{instant(store.plant, fault.from)}</span>} {row?.title ?? fault.name}{which}
              {fault.size != null && (row?.low != null || row?.high != null) && `, ${withUnit(String(fault.size), row?.unit)}`}
              {fault.when && <small>{fault.waits ? "waits until" : "came when"} {fault.when}</small>}
              <button type="button" class="plain" onClick={() => run({ act: "clear_fault", name: fault.name, ...(fault.item ? { item: fault.item } : {}), ...(fault.module ? { module: fault.module } : {}) }, "Ended.")}>Clear</button>
            </li>
          );
        })}
      </ul>
    </fieldset>
  );
}

export function InstructorPanel({ store }: { store: Store }) {
  useTopics(store, "session", "frame");
  const [problem, setProblem] = useState("");
  const run: Run = (body, said) => void instruct(body, said).then(setProblem);
  const { grades } = store.session;
  return (
    <Panel id="instructor" title="Instructor" note="trainees do not see this panel">
      {problem && <p class="warn" role="alert">{problem}</p>}
      <div class="instructor">
        <TimeBlock store={store} run={run} />
        <BackBlock store={store} run={run} />
        <SavedBlock store={store} run={run} />
        <DelayBlock store={store} run={run} />
        <DisturbanceBlock list={store.plant.faults} act="fault" legend="Fault" store={store} run={run} />
        <ActiveFaults store={store} run={run} />
        <DisturbanceBlock list={store.plant.weather} act="weather" legend="Weather" store={store} run={run} />
        {!store.finished && grades && grades.length > 0 && <fieldset class="wide"><legend>Requirements so far</legend><Grades grades={grades} /></fieldset>}
      </div>
    </Panel>
  );
}
