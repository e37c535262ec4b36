// The exercise: briefing before it, steps of the lesson during it (each points at parts of the page), results after it.
import { useEffect, useRef, useState } from "preact/hooks";
import { announce, report } from "./announce";
import { post } from "./link";
import { Panel } from "./panel";
import type { Exercise, Grade, LessonStep } from "./protocol";
import { useCall, useTopics, type Store } from "./store";
import { plain, withUnit } from "./words";

interface Props {
  store: Store;
  onPoint: (names: string[]) => void;
}

interface PanelProps extends Props {
  withLesson: boolean;
}

function firstOpen(done: boolean[]): number {
  const at = done.findIndex((d) => !d);
  return at < 0 ? done.length - 1 : at;
}

function Steps({ store, steps, onPoint }: Props & { steps: LessonStep[] }) {
  const done = store.checks.lesson?.done ?? [];
  const [at, setAt] = useState(() => Math.max(0, firstOpen(done)));
  const placed = useRef(store.checks.lesson !== undefined);
  useEffect(() => {
    if (placed.current || !store.checks.lesson) return;
    placed.current = true;  // what was done before this page was opened is not asked for again
    setAt(Math.max(0, firstOpen(done)));
  });
  const step = steps[at];
  const finished = done[at] ?? false;
  useEffect(() => {
    onPoint(step?.show ?? []);
    announce(`Step ${at + 1} of ${steps.length}: ${step?.title ?? ""}. ${step?.text ?? ""}`);
    return () => onPoint([]);
  }, [at]);
  if (!step) return null;
  // A step that no signal shows is done when the trainee goes on.
  const next = () => {
    if (!finished && !step.done_when && store.mayAct) void post("check", { procedure: "lesson", step: at + 1, done: true }).then(({ problem }) => { if (problem) report(problem, ""); });
    setAt(at + 1);
  };
  return (
    <div class="lesson">
      <h3><span class="soft">Step {at + 1} of {steps.length}</span> {step.title}</h3>
      <p>{step.text}</p>
      {step.done_when && <p class={finished ? "good" : "soft"}>{finished ? "✓ done" : "○ waiting for the plant to show it"}</p>}
      <p class="lesson-keys">
        <button type="button" class="plain" disabled={at === 0} onClick={() => setAt(at - 1)}>Back</button>
        <button type="button" class="act" disabled={at === steps.length - 1} onClick={next}>Next step</button>
      </p>
    </div>
  );
}

function Briefing({ exercise, open }: { exercise: Exercise; open: boolean }) {
  return (
    <details open={open} class="briefing">
      <summary>Briefing</summary>
      {exercise.objective && <p><b>Objective</b> {exercise.objective}</p>}
      {exercise.briefing?.split(/\n\s*\n/).map((text, i) => <p key={i}>{text}</p>)}
    </details>
  );
}

const SIGNS: Record<Grade["verdict"], [string, string]> = {
  satisfied: ["✓", "good"],
  violated: ["✗", "bad"],
  undecided: ["?", "warn"],
  "not exercised": ["–", "soft"],
};

export function Grades({ grades }: { grades: Grade[] }) {
  return (
    <table class="grades">
      <thead><tr><th scope="col">requirement</th><th scope="col">verdict</th><th scope="col">margin</th></tr></thead>
      <tbody>
        {grades.map((grade) => {
          const [sign, tone] = SIGNS[grade.verdict] ?? ["", ""];
          return (
            <tr key={grade.name}>
              <th scope="row">{grade.name}{grade.text && <small>{grade.text}</small>}</th>
              <td class={tone}>{sign} {grade.verdict}</td>
              <td class="amount">{grade.margin == null ? "" : withUnit(typeof grade.margin === "number" ? plain(grade.margin) : grade.margin, grade.unit)}</td>
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}

export function ExercisePanel({ store, withLesson, onPoint }: PanelProps) {
  useTopics(store, "session", "checks");
  const [finished, setFinished] = useState(store.finished);
  useCall(store, ["frame", "session"], () => setFinished(store.finished));
  const { exercise } = store.plant;
  const grades = store.session.grades ?? [];
  if (finished)
    return (
      <Panel id="exercise" title="The run is finished">
        <p><a class="act" href="/api/debrief">Read the debrief</a></p>
        {grades.length > 0 && <Grades grades={grades} />}
      </Panel>
    );
  if (!exercise) return null;
  return (
    <Panel id="exercise" title={exercise.lesson?.length ? "Lesson" : "Exercise"}>
      <Briefing exercise={exercise} open={store.plant.role !== "instructor"} />
      {withLesson && exercise.lesson && exercise.lesson.length > 0 && <Steps store={store} steps={exercise.lesson} onPoint={onPoint} />}
    </Panel>
  );
}
