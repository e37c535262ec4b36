// The two directions of the link: events of the server, and requests to it.
import type { AlarmState, Checks, Frame, History, LogEntry, Plant, SessionState } from "./protocol";

const RETRY = 2000;  // ms
const OTHER_ROLE = 412;

let role = "";

/** The role that this page was made for: another window of the browser may have taken another one. */
export function madeFor(given: string): void {
  role = given;
}

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

const TWICE = 400;  // ms within which the same request again is one press too many
const underWay = new Map<string, Promise<Reply>>();

/** Sends a request. The same one while it is under way, and shortly after, is not sent again. */
export function post(path: string, body: object): Promise<Reply> {
  const key = path + JSON.stringify(body);
  const before = underWay.get(key);
  if (before) return before;
  const reply = send(path, body);
  underWay.set(key, reply);
  void reply.then(() => setTimeout(() => underWay.delete(key), TWICE));
  return reply;
}

async function send(path: string, body: object): Promise<Reply> {
  try {
    const answer = await fetch(`/api/${path}`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Duskline": "1", "X-Duskline-Role": role },
      body: JSON.stringify(body),
    });
    if (answer.status === OTHER_ROLE) location.reload();
    if (!answer.ok) return { problem: await refusal(answer) };
    const reply = (await answer.json().catch(() => ({}))) as { at?: number };
    return { problem: "", at: reply.at };
  } catch {
    return { problem: "The server does not answer. Whether this was carried out is not known: look at the log." };
  }
}

/** Whose view is asked for: that of the visitor's own role, or, for an instructor, that of the trainees. */
export type View = "" | "trainee";

function of(path: string, view: View): string {
  const query = [view && `view=${view}`, role && `as=${role}`].filter(Boolean).join("&");
  return query ? `${path}${path.includes("?") ? "&" : "?"}${query}` : path;
}

export async function fetchPlant(view: View = ""): Promise<Plant> {
  const answer = await fetch(of("/api/plant", view));
  if (answer.status === OTHER_ROLE) location.reload();
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
  let reason = "";
  source.onopen = () => { reason = ""; to.opened(); };
  source.onerror = () => {
    to.lost(reason);
    if (source.readyState !== EventSource.CLOSED) return;
    // the server refused: what it answers to another request says why
    fetchPlant(view).then(() => { if (!ended) to.lost("as many pages are open as are served"); },
      (error: unknown) => { if (!ended && !(error instanceof TypeError)) to.lost(error instanceof Error ? error.message : ""); });
    setTimeout(() => { if (!ended) again = listen(to, view); }, RETRY);
  };
  let again = () => source.close();
  on<{ reason?: string }>("bye", (bye) => { reason = bye.reason ?? ""; to.lost(reason); });
  on<Frame>("frame", (frame) => to.frame(frame));
  on<AlarmState[]>("alarms", (alarms) => to.alarms(alarms));
  on<LogEntry | LogEntry[]>("log", (entries) => [entries].flat().forEach((entry) => to.log(entry)));
  on<SessionState>("session", (session) => to.session(session));
  on<Checks>("checks", (checks) => to.checks(checks));
  return () => { ended = true; again(); };
}
