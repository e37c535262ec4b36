// What the operator asks for: the mode, and set-points within their limits. A refused button stays reachable and says
// which permissives are missing.
import { useContext, useState } from "preact/hooks";
import { announce, report } from "./announce";
import { Confirm } from "./confirm";
import { post } from "./link";
import { Panel } from "./panel";
import { Pointed } from "./pointed";
import type { Command } from "./protocol";
import { useTopics, type Store } from "./store";
import { fixed, instant, range, withUnit } from "./words";

async function send(store: Store, command: Command, value?: number): Promise<string> {
  const { problem, at } = await post("command", value === undefined ? { name: command.name } : { name: command.name, value });
  const later = at !== undefined && at > store.now + 5 ? `, takes effect at ${instant(store.plant, at)}` : "";
  report(problem, `${command.title} sent${later}.`);
  if (!problem && at !== undefined && at > store.now + 5)
    store.sent.push({ at, text: command.act === "button" ? command.title : `${command.title} ${value === undefined ? "none" : withUnit(String(value), command.unit)}` });
  return problem;
}

function ButtonCommand({ store, command }: { store: Store; command: Command }) {
  const [asking, setAsking] = useState(false);
  const [problem, setProblem] = useState("");
  const pointed = useContext(Pointed).has(command.name);
  const inForce = command.mode !== undefined && store.frame?.mode === command.mode;
  const reasons = inForce ? [] : store.frame?.refused?.[command.name] ?? [];
  const refused = reasons.length > 0;
  const act = async () => { setAsking(false); setProblem(await send(store, command)); };
  return (
    <li class={`command ${pointed ? "pointed" : ""}`} data-command={command.name}>
      <button type="button" class={`mode ${inForce ? "in-force" : ""}`} aria-disabled={refused || inForce || !store.mayAct}
        aria-describedby={`why-${command.name}`} title={command.text}
        onClick={() => {
          if (inForce || !store.mayAct) return;
          if (refused) announce(`${command.title} is not permitted: ${reasons.join(", ")}.`);
          else if (command.confirm) setAsking(true);
          else void act();
        }}>
        {command.title}
      </button>
      <span id={`why-${command.name}`} class="why">
        {inForce ? "in force" : refused ? `not permitted: ${reasons.join(", ")}` : ""}
      </span>
      {asking && <Confirm text={`${command.title}?`} onYes={act} onNo={() => setAsking(false)} />}
      {problem && <small class="warn" role="alert">{problem}</small>}
    </li>
  );
}

function digitsOf(store: Store, command: Command): number {
  return command.digits ?? store.signals.get(command.signal ?? command.name)?.digits ?? 2;
}

function SetPoint({ store, command }: { store: Store; command: Command }) {
  const [text, setText] = useState("");
  const [asked, setAsked] = useState<number | "none" | null>(null);
  const [problem, setProblem] = useState("");
  const shown = useContext(Pointed);
  const pointed = shown.has(command.name) || (command.signal !== undefined && shown.has(command.signal));
  const now = store.value(command.signal ?? command.name);
  const digits = digitsOf(store, command);
  const low = command.low ?? null;
  const high = command.high ?? null;
  const reasons = store.frame?.refused?.[command.name] ?? [];
  const id = `set-${command.name}`;

  const ask = (event: Event) => {
    event.preventDefault();
    if (text.trim() === "" && command.optional) return setAsked("none");
    const value = Number(text.trim().replace(",", ".").replace("\u2212", "-"));
    if (text.trim() === "" || !Number.isFinite(value)) return setProblem("Type a number.");
    if ((low !== null && value < low) || (high !== null && value > high))
      return setProblem(`Outside its limits, ${range(low, high, command.unit)}.`);
    setProblem("");
    return setAsked(value);
  };
  const close = () => setAsked(null);
  const act = async () => {
    const answer = await send(store, command, asked === "none" || asked === null ? undefined : asked);
    setProblem(answer);
    if (!answer) setText("");
    close();
  };
  const share = (value: number) => `${100 * Math.max(0, Math.min(1, (value - (low as number)) / ((high as number) - (low as number))))}%`;
  const bounded = low !== null && high !== null && high > low;
  return (
    <li class={`set-point ${pointed ? "pointed" : ""}`} data-command={command.name}>
      <form onSubmit={ask}>
        <label for={id} title={command.text}>{command.title}</label>
        <output>{now === null ? "–" : withUnit(fixed(now, digits), command.unit)}</output>
        {bounded && (
          <span class="set-bar" aria-hidden="true">
            {now !== null && <i class="set-now" style={{ left: share(now) }} />}
            {typeof asked === "number" && <i class="set-asked" style={{ left: share(asked) }} />}
          </span>
        )}
        <small id={`${id}-range`}>{range(low, high, command.unit)}{command.optional && ", or none"}</small>
        {store.mayAct && asked === null && (
          <span class="entry-row">
            <input id={id} inputMode="decimal" autocomplete="off" size={7} value={text} aria-describedby={`${id}-range ${id}-problem`}
              aria-invalid={problem !== ""} onInput={(e) => setText(e.currentTarget.value)} />
            <button type="submit" id={`${id}-button`} class="act">Set</button>
          </span>
        )}
      </form>
      {asked !== null && (
        <Confirm text={`${now === null ? "" : `${fixed(now, digits)} → `}${asked === "none" ? "none" : withUnit(fixed(asked, digits), command.unit)}?`} onYes={act} onNo={close} back={`${id}-button`} />
      )}
      {reasons.length > 0 && <small class="why">has no effect: {reasons.join(", ")}</small>}
      <small id={`${id}-problem`} class="warn" role="alert">{problem}</small>
    </li>
  );
}

export function CommandPanel({ store }: { store: Store }) {
  useTopics(store, "frame", "session");
  const { commands } = store.plant;
  const buttons = commands.filter((c) => c.act === "button");
  const numbers = commands.filter((c) => c.act === "number");
  const pending = store.plant.role === "instructor" ? store.session.pending ?? [] : store.sent;
  return (
    <Panel id="commands" title="Mode and set-points">
      <ul class="modes">{buttons.map((c) => <ButtonCommand key={c.name} store={store} command={c} />)}</ul>
      <ul class="set-points">{numbers.map((c) => <SetPoint key={c.name} store={store} command={c} />)}</ul>
      {pending.length > 0 && (
        <ul class="pending" aria-label="Sent, not yet in effect">
          {pending.map((p, i) => <li key={i}><b>under way</b> {p.text}, in effect at {instant(store.plant, p.at, true)}</li>)}
        </ul>
      )}
    </Panel>
  );
}
