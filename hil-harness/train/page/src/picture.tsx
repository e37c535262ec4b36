// The plant as a flow picture, drawn from the data that come with the plant: grey when normal, colour only for what is
// abnormal. Each reading stands as tag, number and bar between its limits.
import { useContext } from "preact/hooks";
import { Panel } from "./panel";
import { Pointed } from "./pointed";
import type { Part, Picture, Pipe, Signal } from "./protocol";
import { isOpen, useTopics, type Store } from "./store";
import { Symbol } from "./symbols";
import { amount, range, withUnit } from "./words";

const [WIDTH, HEIGHT] = [11, 4.5];  // of a reading, in units of the picture

function Line({ pipe }: { pipe: Pipe }) {
  const points = pipe.points.map((p) => p.join(",")).join(" ");
  return <polyline class={`pipe is-${pipe.kind}`} points={points} marker-end={pipe.arrow === false ? undefined : "url(#arrow)"} />;
}

function PartView({ store, part }: { store: Store; part: Part }) {
  const pointed = useContext(Pointed).has(part.name);
  const signal = part.state ? store.signals.get(part.state) : undefined;
  const below = part.y + part.h + 1.7;
  return (
    <g class={`part ${pointed ? "pointed" : ""}`} data-part={part.name}>
      <title>{part.text ?? part.title}</title>
      <Symbol part={part} />
      <text class="part-title" x={part.x + part.w / 2} y={below}>{part.title}</text>
      {signal && (
        <text class="part-state" x={part.x + part.w / 2} y={below + 1.7}>
          {withUnit(amount(signal, store.value(signal.name)), signal.unit)}
        </text>
      )}
    </g>
  );
}

/** Beyond an alarm limit, unless the alarm of that limit means nothing now (suppressed by design). */
function isAbnormal(store: Store, signal: Signal, value: number | null): boolean {
  if (value === null) return false;
  const beyond = (signal.alarm_low != null && value < signal.alarm_low) || (signal.alarm_high != null && value > signal.alarm_high);
  return beyond && (!signal.alarms?.length || store.alarms.some((alarm) => signal.alarms?.includes(alarm.name) && isOpen(alarm)));
}

/** A bar from the low to the high end of the span, marks at its alarm limits and its set-point. */
function Bar({ store, signal, x, y, w }: { store: Store; signal: Signal; x: number; y: number; w: number }) {
  const { low, high } = signal;
  if (low === null || high === null || !(high > low)) return null;
  const at = (v: number) => x + w * Math.max(0, Math.min(1, (v - low) / (high - low)));
  const value = store.value(signal.name);
  const set = signal.set ? store.value(signal.set) : null;
  return (
    <g>
      <rect class="bar-ground" x={x} y={y} width={w} height={0.7} />
      {signal.alarm_low != null && <rect class="bar-limit" x={x} y={y} width={at(signal.alarm_low) - x} height={0.7} />}
      {signal.alarm_high != null && <rect class="bar-limit" x={at(signal.alarm_high)} y={y} width={x + w - at(signal.alarm_high)} height={0.7} />}
      {value !== null && <rect class="bar-value" x={at(value) - 0.2} y={y - 0.3} width={0.4} height={1.3} />}
      {set !== null && <path class="bar-set" d={`M${at(set)} ${y + 0.8} l-0.5 0.8 h1 z`} />}
    </g>
  );
}

function Reading({ store, signal, x, y }: { store: Store; signal: Signal; x: number; y: number }) {
  const pointed = useContext(Pointed).has(signal.name);
  const value = store.value(signal.name);
  const quality = store.quality(signal.name);
  const abnormal = isAbnormal(store, signal, value);
  const left = x - WIDTH / 2;
  const top = y - HEIGHT / 2;
  const mark = quality === "suspect" ? "suspect" : quality === "old" ? (value === null ? "no reading" : "old") : signal.kind === "estimate" ? "estimate" : "";
  const spoken = `${signal.title}: ${withUnit(amount(signal, value), signal.unit)}${mark ? `, ${mark}` : ""}`;
  const state = `${abnormal ? "abnormal" : ""} ${quality === "good" ? "" : quality} ${pointed ? "pointed" : ""}`;
  return (
    <g class={`reading ${state}`} role="img" aria-label={spoken} data-signal={signal.name}>
      <title>{`${spoken}. Span ${range(signal.low, signal.high, signal.unit)}`}</title>
      <rect class="frame" x={left} y={top} width={WIDTH} height={HEIGHT} rx={0.5} />
      <text class="tag" x={left + 0.5} y={top + 1.3}>{signal.tag ?? signal.title}</text>
      {mark && <text class="mark" x={left + WIDTH} y={top - 0.25}>{mark}</text>}
      <text class="number" x={left + WIDTH - 0.5} y={top + 3.15}>
        {amount(signal, value)}<tspan class="unit"> {signal.unit === "1" ? "" : signal.unit}</tspan>
      </text>
      <Bar store={store} signal={signal} x={left + 0.5} y={top + 3.5} w={WIDTH - 1} />
    </g>
  );
}

export function PicturePanel({ store, picture }: { store: Store; picture: Picture }) {
  useTopics(store, "frame", "link");
  return (
    <Panel id="picture" title="Plant" note="from the intake to the oxygen">
      <div class="scroll" tabIndex={0} role="group" aria-label="Flow picture of the plant, scrolls sideways on a narrow screen">
        <svg class="picture" viewBox={`0 0 ${picture.width} ${picture.height}`} role="group" aria-label="Flow picture of the plant">
          <defs>
            <marker id="arrow" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="5" markerHeight="5" orient="auto-start-reverse">
              <path d="M0 1 L10 5 L0 9 z" />
            </marker>
          </defs>
          {picture.pipes.map((pipe, i) => <Line key={i} pipe={pipe} />)}
          {picture.parts.map((part) => <PartView key={part.name} store={store} part={part} />)}
          {picture.readings.map(({ signal: name, x, y }) => {
            const signal = store.signals.get(name);
            return signal && <Reading key={name} store={store} signal={signal} x={x} y={y} />;
          })}
        </svg>
      </div>
    </Panel>
  );
}
