// The page: which panels there are for this role, and where they stand.
import { render } from "preact";
import { useEffect, useState } from "preact/hooks";
import { AlarmPanel } from "./alarms";
import { Announcer, announce } from "./announce";
import { CommandPanel } from "./commands";
import { AlarmLine, Header, acknowledge } from "./header";
import { InstructorPanel, freezeOrGo } from "./instructor";
import { KeyDialog, panelKeys, useKeys, type Key } from "./keys";
import { ExercisePanel } from "./lesson";
import { fetchPlant, madeFor } from "./link";
import { LogPanel } from "./logbook";
import { MarginPanel } from "./margins";
import { ModulePanel } from "./modules";
import { PicturePanel } from "./picture";
import { Pointed } from "./pointed";
import { ProcedurePanel } from "./procedures";
import { Sound } from "./sound";
import { Store, urgent, useTopics } from "./store";
import { Beside, useTraineeStore } from "./trainee";
import { TrendPanel } from "./trends";

function keysOf(store: Store, sound: Sound, help: () => void): Key[] {
  return [
    { key: "?", text: "this list", act: help },
    ...(store.mayAct ? [{ key: "a", text: "acknowledge the most urgent alarm", act: () => {
      const alarm = urgent(store).find((one) => !store.acknowledged.has(one.name));
      if (alarm) void acknowledge(store, alarm.name);
      else announce("No other alarm waits to be acknowledged.");
    } }] : []),
    { key: "s", text: "silence the sound", act: () => sound.silence() },
    ...(store.mayAct ? [{ key: "n", text: "write a note", act: () => document.getElementById("note-text")?.focus() }] : []),
    ...(store.plant.role === "instructor" ? [{ key: "f", text: "freeze, or go on", act: () => void freezeOrGo(store) }] : []),
    ...panelKeys(),
  ];
}

/** Points at panels, parts and signals, and brings the first of them into view. */
function usePointed(): [ReadonlySet<string>, (names: string[]) => void] {
  const [names, setNames] = useState<ReadonlySet<string>>(new Set());
  useEffect(() => { document.querySelector(".pointed")?.scrollIntoView({ block: "nearest", behavior: "smooth" }); }, [names]);
  return [names, (list) => setNames(new Set(list))];
}

function App({ store: own, sound }: { store: Store; sound: Sound }) {
  const [help, setHelp] = useState(false);
  const [traineeView, setTraineeView] = useState(false);
  const [pointed, setPointed] = usePointed();
  const keys = () => keysOf(own, sound, () => setHelp(true));
  useKeys(keys);
  const trainee = useTraineeStore(traineeView);
  const store = trainee ?? own;
  useTopics(store, "link");
  const { plant } = store;
  const instructing = plant.role === "instructor";
  return (
    <Pointed.Provider value={pointed}>
      <a class="skip" href={plant.module_cards ? "#modules" : "#margins"}>Skip to the plant</a>
      <div class="above">
        <Header store={store} onKeys={() => setHelp(true)} />
        <AlarmLine store={store} sound={sound} />
      </div>
      {own.plant.role === "instructor" && (
        <p class="view-switch">
          <button type="button" class="plain" onClick={() => setTraineeView(!traineeView)}>
            {traineeView ? "Show the instructor's panel" : "Show what the trainees see"}
          </button>
        </p>
      )}
      <main key={store.view} class={`${store.stale || !store.connected ? "no-data" : ""} is-${plant.role}`}>
        <div class="left">
          {trainee && <Beside present={own} trainee={trainee} />}
          <ExercisePanel store={store} withLesson={!instructing} onPoint={setPointed} />
          {instructing && <InstructorPanel store={store} />}
          {plant.margins && <MarginPanel store={store} margins={plant.margins} />}
          {plant.module_cards && <ModulePanel store={store} cards={plant.module_cards} />}
          {plant.picture && <PicturePanel store={store} picture={plant.picture} />}
          <TrendPanel store={store} />
        </div>
        <div class="right">
          <CommandPanel store={store} />
          <AlarmPanel store={store} />
          <ProcedurePanel store={store} />
          <LogPanel store={store} />
        </div>
      </main>
      <Announcer store={own} />
      <KeyDialog keys={keys()} open={help} onClose={() => setHelp(false)} />
    </Pointed.Provider>
  );
}

function fail(text: string): void {
  const place = document.getElementById("console") as HTMLElement;
  place.replaceChildren(Object.assign(document.createElement("p"), { className: "waiting", textContent: text }));
}

fetchPlant().then((plant) => {
  madeFor(plant.role);
  document.title = `${plant.exercise?.title ?? plant.scenario.title}, ${plant.role}`;
  const store = new Store(plant);
  const sound = new Sound(store);
  const place = document.getElementById("console") as HTMLElement;
  place.replaceChildren();
  render(<App store={store} sound={sound} />, place);
  store.start();
}, (error: unknown) => fail(error instanceof Error ? error.message : String(error)));
