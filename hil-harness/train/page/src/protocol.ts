// What the server and the page say to each other (docs/reference/console-protocol.md). Times are seconds of plant time
// since the start of the run.

export type Role = "operator" | "instructor" | "observer";

export interface Titled {
  name: string;
  title: string;
  text?: string;
}

export interface Signal extends Titled {
  kind: "reading" | "estimate" | "command" | "limit" | "time" | "true";
  unit: string;
  group: string;
  low: number | null;
  high: number | null;
  digits: number;
  tag?: string;
  set?: string;
  alarm_low?: number | null;
  alarm_high?: number | null;
  alarms?: string[];  ///< that watch it; beyond a limit it is abnormal while one of them stands
  words?: Record<string, string>;
}

export interface Command extends Titled {
  act: "button" | "number";
  unit?: string;
  low?: number | null;
  high?: number | null;
  confirm?: boolean;
  optional?: boolean;  ///< may be taken back by giving no value
  group?: string;
  signal?: string;
  mode?: string;
  digits?: number;
}

export type Priority = "low" | "medium" | "high" | "urgent";

export interface Alarm extends Titled {
  priority: Priority;
  cause?: string;
  consequence?: string;
  response?: string;
  time_to_respond?: number | string | null;
  module?: number;  ///< from 1, whose alarm it is, where there are several
}

export interface Part extends Titled {
  symbol: string;
  x: number;
  y: number;
  w: number;
  h: number;
  state?: string;
  flip?: boolean;
}

export interface Pipe {
  kind: "gas" | "product" | "electric" | "signal";
  points: [number, number][];
  arrow?: boolean;
  title?: string;
  flow?: string;
}

export interface Picture {
  width: number;
  height: number;
  parts: Part[];
  pipes: Pipe[];
  readings: { signal: string; x: number; y: number }[];
}

export interface CellGroup {
  name: string;
  title: string;
  voltage: string;
  margin: string;
  limit?: string;
  sigma?: string;
}

export interface Margins {
  title: string;
  text?: string;
  unit: string;
  alarm: number | null;
  trip: number | null;
  cells: CellGroup[];
}

/** Names of the signals of one of several modules. */
export interface ModuleCard {
  number: number;
  title: string;
  mode: string;
  service: string;
  margin: string;
  sigma?: string;
  values: string[];
}

export interface ModuleCards {
  title: string;
  text?: string;
  unit: string;
  alarm: number | null;
  trip: number | null;
  services: Titled[];
  cards: ModuleCard[];
}

export interface LessonStep {
  title: string;
  text: string;
  show?: string[];
  done_when?: string;
}

export interface Exercise {
  name: string;
  title: string;
  objective?: string;
  briefing?: string;
  lesson?: LessonStep[];
}

export interface ProcedureStep {
  text: string;
  done_when?: string;
  signal?: string;
}

export interface Procedure extends Titled {
  steps: ProcedureStep[];
}

/** Something that the instructor can change: a fault or the weather. */
export interface Disturbance extends Titled {
  unit?: string;
  low?: number | null;
  high?: number | null;
  value?: number | null;
  ramp?: boolean;
  items?: number;
  modules?: number;  ///< of which one, or all, it can be
  item_word?: string;
  group?: string;
}

export interface Plant {
  version: string;
  start?: string;  ///< another one with every start of the server
  role: Role;
  scenario: { name: string; title: string; text?: string; duration: number; start_local_time?: number; sol_seconds?: number };
  exercise: Exercise | null;
  period: number;
  groups: Titled[];
  signals: Signal[];
  commands: Command[];
  modes: Titled[];
  alarms: Alarm[];
  picture: Picture | null;
  margins: Margins | null;
  module_cards?: ModuleCards | null;
  procedures: Procedure[];
  diagnoses: Titled[];
  faults: Disturbance[];
  weather: Disturbance[];
  trends?: { title: string; signals: string[] }[];
}

export interface Frame {
  t: number;
  tick: number;
  local_time?: number;
  frozen: boolean;
  speed: number;
  finished: boolean;
  mode: string;
  values: (number | null)[];
  quality: string;
  refused: Record<string, string[]>;
  clients?: number | Record<string, number>;
}

export interface AlarmState {
  name: string;
  state: string;
  since: number;
  first_out?: boolean;
  value?: number | string | null;
  shelved_until?: number | null;
}

export interface LogEntry {
  n: number;
  t: number;
  kind: string;
  who: string;
  text: string;
}

export interface Grade {
  name: string;
  verdict: "satisfied" | "violated" | "undecided" | "not exercised";
  margin?: number | string | null;
  unit?: string;
  text?: string;
}

export interface SessionState {
  frozen: boolean;
  speed: number;
  delay: number;
  finished?: boolean;
  at?: number;
  saved: { name: string; t: number }[];
  branches?: number;
  grades?: Grade[];
  faults?: { name: string; item?: number; module?: number; size?: number | null; from?: number; ramp?: number; when?: string; waits?: boolean }[];
  weather?: { name: string; value: number }[];
  pending?: { at: number; who?: string; text: string }[];
  exercise?: { state: "briefing" | "running" | "finished" };
}

export interface Checks {
  procedures: Record<string, { done: boolean; by?: "signal" | "person" | null }[]>;
  lesson?: { step?: number; done: boolean[] };
}

/** Columns by the name of the signal; `NAME_min` and `NAME_max` where an interval holds several values. */
export type History = { t: number[] } & Record<string, (number | null)[]>;
