// Procedures as check-lists: a step that the plant's signals show to be done is ticked by itself, the others by hand.
import { useState } from "preact/hooks";
import { report } from "./announce";
import { post } from "./link";
import { Panel } from "./panel";
import { useTopics, type Store } from "./store";
import { amount, withUnit } from "./words";

export function ProcedurePanel({ store }: { store: Store }) {
  useTopics(store, "checks", "frame");
  const { procedures } = store.plant;
  const [name, setName] = useState(procedures[0]?.name ?? "");
  const [problem, setProblem] = useState("");
  const procedure = procedures.find((p) => p.name === name);
  const done = store.checks.procedures[name] ?? [];
  const next = procedure?.steps.findIndex((_, i) => !done[i]?.done) ?? -1;
  const check = async (step: number, value: boolean) => {
    const reply = await post("check", { procedure: name, step: step + 1, done: value });
    setProblem(reply.problem);
    report(reply.problem, `Step ${step + 1} ${value ? "done" : "open"}.`);
  };
  return (
    <Panel id="procedures" title="Procedures" aside={
      procedures.length > 0 && (
        <div class="choices">
          <label><span class="unseen">Procedure</span>
            <select value={name} onChange={(e) => setName(e.currentTarget.value)}>
              {procedures.map((p) => <option key={p.name} value={p.name}>{p.title}</option>)}
            </select></label>
        </div>
      )}>
      {!procedure && <p class="soft">This plant has no procedures.</p>}
      {procedure?.text && <p class="soft">{procedure.text}</p>}
      <ol class="steps">
        {procedure?.steps.map((step, i) => {
          const signal = step.signal ? store.signals.get(step.signal) : undefined;
          const bySignal = done[i]?.by === "signal" || (step.done_when !== undefined && step.done_when !== "");
          return (
            <li key={i} class={i === next ? "next" : ""}>
              <label>
                <input type="checkbox" checked={done[i]?.done ?? false} disabled={bySignal || !store.mayAct}
                  onChange={(e) => void check(i, e.currentTarget.checked)} />
                <span>{step.text}
                  {signal && <small>{signal.title}: {withUnit(amount(signal, store.value(signal.name)), signal.unit)}</small>}
                  {bySignal && <small>ticked by the plant's signals</small>}
                </span>
              </label>
            </li>
          );
        })}
      </ol>
      {problem && <p class="warn" role="alert">{problem}</p>}
    </Panel>
  );
}
