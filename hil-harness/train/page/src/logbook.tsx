// The log: alarms, modes, acts of people, notes; the latest first.
import { useState } from "preact/hooks";
import { report } from "./announce";
import { post } from "./link";
import { Panel } from "./panel";
import { useTopics, type Store } from "./store";
import { instant } from "./words";

const SHOWN = 200;

/** The operator names what is wrong; the debrief compares it with what was. */
function CauseForm({ store }: { store: Store }) {
  const [name, setName] = useState("");
  const [problem, setProblem] = useState("");
  const { diagnoses } = store.plant;
  if (!diagnoses.length) return null;
  const send = async (event: Event) => {
    event.preventDefault();
    if (!name) return;
    const reply = await post("diagnosis", { name });
    setProblem(reply.problem);
    report(reply.problem, "Cause written.");
    if (!reply.problem) setName("");
  };
  return (
    <form class="note" onSubmit={(event) => void send(event)}>
      <label class="cause">Cause <select value={name} onChange={(e) => setName(e.currentTarget.value)}>
        <option value="">choose what you think is wrong</option>
        {diagnoses.map((d) => <option key={d.name} value={d.name}>{d.title}</option>)}
      </select></label>
      <button type="submit" class="act" disabled={!name}>Name it</button>
      {problem && <small class="warn" role="alert">{problem}</small>}
    </form>
  );
}

export function LogPanel({ store }: { store: Store }) {
  useTopics(store, "log");
  const [kind, setKind] = useState("");
  const [note, setNote] = useState("");
  const [problem, setProblem] = useState("");
  const kinds = [...new Set(store.log.map((entry) => entry.kind))].sort();
  const entries = store.log.filter((entry) => !kind || entry.kind === kind).slice(-SHOWN).reverse();
  const send = async (event: Event) => {
    event.preventDefault();
    if (!note.trim()) return;
    const reply = await post("note", { text: note.trim() });
    setProblem(reply.problem);
    report(reply.problem, "Note written.");
    if (!reply.problem) setNote("");
  };
  return (
    <Panel id="log" title="Log" aside={
      <div class="choices"><label><span class="unseen">Kind</span>
        <select value={kind} onChange={(e) => setKind(e.currentTarget.value)}>
          <option value="">all kinds</option>
          {kinds.map((k) => <option key={k} value={k}>{k}</option>)}
        </select></label></div>
    }>
      {store.mayAct && (
        <form class="note" onSubmit={(event) => void send(event)}>
          <label class="unseen" for="note-text">Note</label>
          <input id="note-text" placeholder="Note" maxLength={500} value={note} onInput={(e) => setNote(e.currentTarget.value)} />
          <button type="submit" class="act">Write</button>
        </form>
      )}
      {store.mayAct && <CauseForm store={store} />}
      {problem && <p class="warn" role="alert">{problem}</p>}
      <ol class="log" tabIndex={0} aria-label="Entries, the latest first">
        {entries.map((entry) => (
          <li key={entry.n} class={`of-${entry.kind}`}>
            <span class="clock">{instant(store.plant, entry.t)}</span>
            <span class="kind">{entry.kind}</span>
            <span class="entry">{entry.text}{entry.who && <small>{entry.who}</small>}</span>
          </li>
        ))}
      </ol>
      {entries.length === 0 && <p class="soft">No entry yet.</p>}
      {entries.length === SHOWN && <p class="soft">The latest {SHOWN} entries; the debrief has all of them.</p>}
    </Panel>
  );
}
