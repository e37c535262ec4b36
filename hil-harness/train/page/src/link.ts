// The two directions of the link: events of the server, and requests to it.
import type { AlarmState, Checks, Frame, History, LogEntry, Plant, SessionState } from "./protocol";

const RETRY = 2000;  // ms

async function refusal(answer: Response): Promise<string> {
  const text = await answer.text();
  try {
    const body = JSON.parse(text) as { refused?: string[]; problems?: { path?: string; message: string }[]; message?: string };
    if (body.refused) return `Not permitted: ${body.refused.join("; ")}.`;
    if (body.problems) return body.problems.map((p) => (p.path ? `${p.path}: ${p.message}` : p.message)).join("; ");
    if (body.message) return body.message;
  } catch { /* plain text */ }
  if (answer.status === 401) return "The access key is missing or wrong. Open the address that you were given.";
  if (answer.status === 403) return "Your role does not permit this.";
  return text.slice(0, 300) || `The server answered ${answer.status}.`;
}

/** What came of a request: `problem` is empty when it was accepted. */
export interface Reply {
  problem: string;
  at?: number;
}

export async function post(path: string, body: object): Promise<Reply> {
  try {
    const answer = await fetch(`/api/${path}`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Duskline": "1" },
      body: JSON.stringify(body),
    });
    if (!answer.ok) return { problem: await refusal(answer) };
    const reply = (await answer.json().catch(() => ({}))) as { at?: number };
    return { problem: "", at: reply.at };
  } catch {
    return { problem: "The server does not answer. Nothing was sent." };
  }
}

/** Whose view is asked for: that of the visitor's own role, or, for an instructor, that of the trainees. */
export type View = "" | "trainee";

const of = (path: string, view: View) => (view ? `${path}${path.includes("?") ? "&" : "?"}view=${view}` : path);

export async function fetchPlant(view: View = ""): Promise<Plant> {
  const answer = await fetch(of("/api/plant", view));
  if (!answer.ok) throw new Error(await refusal(answer));
  const plant = (await answer.json()) as Partial<Plant>;
  return { version: "", role: "observer", exercise: null, period: 1, groups: [], signals: [], commands: [], modes: [],
    alarms: [], picture: null, margins: null, procedures: [], diagnoses: [], faults: [], weather: [],
    scenario: { name: "", title: "", duration: 0 }, ...plant };
}

export async function fetchHistory(signals: string[], from: number, to: number, points: number, view: View): Promise<History> {
  const query = new URLSearchParams({ signals: signals.join(","), from: String(from), to: String(to), points: String(points) });
  const answer = await fetch(of(`/api/history?${query}`, view));
  if (!answer.ok) throw new Error(await refusal(answer));
  return (await answer.json()) as History;
}

export interface Listener {
  opened(): void;
  lost(reason?: string): void;
  frame(frame: Frame): void;
  alarms(alarms: AlarmState[]): void;
  log(entry: LogEntry): void;
  session(session: SessionState): void;
  checks(checks: Checks): void;
}

/** Opens the stream and opens it again whenever it ends; the browser sends the last id that it has seen. Gives what ends it. */
export function listen(to: Listener, view: View): () => void {
  const source = new EventSource(of("/api/stream", view));
  let ended = false;
  const on = <T>(kind: string, take: (value: T) => void) =>
    source.addEventListener(kind, (event) => take(JSON.parse((event as MessageEvent<string>).data) as T));
  source.onopen = () => to.opened();
  source.onerror = () => {
    to.lost();
    if (source.readyState === EventSource.CLOSED) setTimeout(() => { if (!ended) again = listen(to, view); }, RETRY);
  };
  let again = () => source.close();
  on<{ reason?: string }>("bye", ({ reason }) => to.lost(reason));
  on<Frame>("frame", (frame) => to.frame(frame));
  on<AlarmState[]>("alarms", (alarms) => to.alarms(alarms));
  on<LogEntry | LogEntry[]>("log", (entries) => [entries].flat().forEach((entry) => to.log(entry)));
  on<SessionState>("session", (session) => to.session(session));
  on<Checks>("checks", (checks) => to.checks(checks));
  return () => { ended = true; again(); };
}
