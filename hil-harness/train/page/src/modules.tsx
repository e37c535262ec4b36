// One card for each of several modules: mode and service, the least coke margin against its limits, alarms, a few values.
import { useState } from "preact/hooks";
import { report } from "./announce";
import { Confirm } from "./confirm";
import { post } from "./link";
import { Panel } from "./panel";
import type { ModuleCard, ModuleCards } from "./protocol";
import { Sparkline } from "./sparkline";
import { isOpen, isUnacknowledged, useTopics, type Store } from "./store";
import { amount, fixed, instant, plain, withUnit } from "./words";

const AXIS = 120;  // mV, from the limit of the cells

function levelOf(cards: ModuleCards, margin: number | null): "" | "low" | "harm" {
  if (margin === null) return "";
  if (cards.trip !== null && margin < cards.trip) return "harm";
  return cards.alarm !== null && margin < cards.alarm ? "low" : "";
}

function MarginBar({ cards, margin }: { cards: ModuleCards; margin: number | null }) {
  const x = (v: number) => (1000 * Math.max(0, Math.min(AXIS, v))) / AXIS;
  return (
    <svg class="track" viewBox="0 0 1000 20" preserveAspectRatio="none" aria-hidden="true">
      <rect class="ground" x="0" y="4" width="1000" height="12" />
      {cards.alarm !== null && <rect class="near" x="0" y="4" width={x(cards.alarm)} height="12" />}
      {margin !== null && <rect class="bar" x="0" y="6" width={x(margin)} height="8" />}
      <line class="limit" x1="1" x2="1" y1="0" y2="20" />
    </svg>
  );
}

function ServiceForm({ store, cards, card }: { store: Store; cards: ModuleCards; card: ModuleCard }) {
  const [asked, setAsked] = useState("");
  const [problem, setProblem] = useState("");
  const signal = store.signals.get(card.service);
  const now = signal ? amount(signal, store.value(card.service)) : "";
  const send = async () => {
    const reply = await post("command", { name: "service", module: card.number, service: asked });
    const later = reply.at !== undefined && reply.at > store.now + 5 ? `, takes effect at ${instant(store.plant, reply.at)}` : "";
    report(reply.problem, `${card.title} ${asked} sent${later}.`);
    setProblem(reply.problem);
    setAsked("");
  };
  return (
    <div class="service">
      <label>service <select value={asked || now} disabled={!store.mayAct} onChange={(e) => setAsked(e.currentTarget.value === now ? "" : e.currentTarget.value)}>
        {cards.services.map((s) => <option key={s.name} value={s.name} title={s.text}>{s.title}</option>)}
      </select></label>
      {asked && (
        <Confirm text={`${card.title} ${asked}?`} onYes={send} onNo={() => setAsked("")} />
      )}
      {problem && <small class="warn" role="alert">{problem}</small>}
    </div>
  );
}

function Card({ store, cards, card }: { store: Store; cards: ModuleCards; card: ModuleCard }) {
  const margin = store.value(card.margin);
  const sigma = store.value(card.sigma);
  const level = levelOf(cards, margin);
  const mode = store.signals.get(card.mode);
  const alarms = store.alarms.filter((a) => isOpen(a) && store.alarmsByName.get(a.name)?.module === card.number);
  const waiting = alarms.filter(isUnacknowledged).length;
  return (
    <li class={`card ${level ? `level-${level}` : ""} ${store.stale ? "old" : ""}`} data-module={card.number} aria-label={card.title}>
      <h3>{card.title}<span class="card-mode">{mode ? amount(mode, store.value(card.mode)) : "–"}</span></h3>
      <p class="margin">
        {level && <span class="level">{level === "harm" ? "trip" : "low"}</span>}
        <b>{margin === null ? "–" : withUnit(fixed(margin, 0), cards.unit)}</b>
        {margin !== null && sigma !== null && <small>±{fixed(sigma, 0)}</small>} <small>least coke margin</small>
      </p>
      <MarginBar cards={cards} margin={margin} />
      <Sparkline store={store} signal={card.margin} title="margin" />
      <dl>
        {card.values.map((name) => {
          const signal = store.signals.get(name);
          return signal && (
            <div key={name} class={store.quality(name) === "suspect" ? "suspect" : ""}>
              <dt>{signal.title.replace(/, module \d+$/, "")}</dt>
              <dd class="amount">{withUnit(amount(signal, store.value(name)), signal.unit)}</dd>
            </div>
          );
        })}
        <div><dt>Alarms</dt><dd class={waiting ? "warn" : ""}>{alarms.length === 0 ? "none" : `${alarms.length}${waiting ? `, ${waiting} to acknowledge` : ""}`}</dd></div>
      </dl>
      <ServiceForm store={store} cards={cards} card={card} />
    </li>
  );
}

export function ModulePanel({ store, cards }: { store: Store; cards: ModuleCards }) {
  useTopics(store, "frame", "alarms");
  const note = [cards.alarm !== null && `alarm below ${withUnit(plain(cards.alarm), cards.unit)}`,
    cards.trip !== null && `trip below ${withUnit(plain(cards.trip), cards.unit)}`].filter(Boolean).join(", ");
  return (
    <Panel id="modules" title={cards.title} note={note}>
      <ul class="cards">{cards.cards.map((card) => <Card key={card.number} store={store} cards={cards} card={card} />)}</ul>
      {cards.text && <p class="legend">{cards.text}</p>}
    </Panel>
  );
}
