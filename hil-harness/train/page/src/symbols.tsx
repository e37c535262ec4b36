// Symbols of the flow picture by their kind: plain outlines in the manner of ISA-5.1 and ISO 10628, drawn here.
import type { JSX } from "preact";
import type { Part } from "./protocol";

type Draw = (p: Part) => JSX.Element;

const box: Draw = ({ x, y, w, h }) => <rect x={x} y={y} width={w} height={h} rx={0.4} />;

const zigzag = (x: number, y: number, w: number, h: number, turns: number) =>
  Array.from({ length: 2 * turns + 1 }, (_, i) => {
    const at = x + (w * i) / (2 * turns);
    return `${at},${i === 0 || i === 2 * turns ? y + h / 2 : i % 2 ? y + 0.15 * h : y + 0.85 * h}`;
  }).join(" ");

const DRAW: Record<string, Draw> = {
  intake: ({ x, y, w, h }) => <path d={`M${x} ${y} L${x + w} ${y + 0.3 * h} V${y + 0.7 * h} L${x} ${y + h}`} />,
  filter: (p) => (
    <>
      {box(p)}
      {[1, 2, 3].map((i) => (
        <line key={i} class="fine" x1={p.x + (p.w * i) / 4} x2={p.x + (p.w * i) / 4} y1={p.y} y2={p.y + p.h} stroke-dasharray="0.6 0.5" />
      ))}
    </>
  ),
  compressor: ({ x, y, w, h }) => {
    const r = Math.min(w, h) / 2;
    const [cx, cy] = [x + w / 2, y + h / 2];
    return (
      <>
        <circle cx={cx} cy={cy} r={r} />
        <path d={`M${cx - 0.75 * r} ${cy - 0.66 * r} L${cx + 0.94 * r} ${cy - 0.33 * r} M${cx - 0.75 * r} ${cy + 0.66 * r} L${cx + 0.94 * r} ${cy + 0.33 * r}`} />
      </>
    );
  },
  vessel: ({ x, y, w, h }) => <rect x={x} y={y} width={w} height={h} rx={Math.min(w, h) / 2} />,
  exchanger: (p) => (
    <>
      {box(p)}
      <polyline points={zigzag(p.x, p.y + 0.1 * p.h, p.w, 0.8 * p.h, 3)} />
    </>
  ),
  heater: (p) => (
    <>
      {box(p)}
      <polyline class="fine" points={zigzag(p.x + 0.12 * p.w, p.y + 0.25 * p.h, 0.76 * p.w, 0.5 * p.h, 4)} />
    </>
  ),
  stack: (p) => (
    <>
      {box(p)}
      {Array.from({ length: 9 }, (_, i) => (
        <line key={i} class="fine" x1={p.x} x2={p.x + p.w} y1={p.y + (p.h * (i + 1)) / 10} y2={p.y + (p.h * (i + 1)) / 10} />
      ))}
    </>
  ),
  electrode: box,
  valve: ({ x, y, w, h }) => <path d={`M${x} ${y} V${y + h} L${x + w} ${y} V${y + h} Z`} />,
  orifice: ({ x, y, w, h }) => (
    <path d={`M${x + w / 2} ${y} V${y + 0.36 * h} M${x + w / 2} ${y + h} V${y + 0.64 * h} M${x} ${y + h / 2} H${x + w}`} />
  ),
  outlet: ({ x, y, w, h }) => (
    <path d={`M${x} ${y} H${x + 0.7 * w} L${x + w} ${y + h / 2} L${x + 0.7 * w} ${y + h} H${x} Z`} />
  ),
  supply: ({ x, y, w, h }) => (
    <>
      <circle cx={x + w / 2} cy={y + h / 2} r={Math.min(w, h) / 2} />
      <path class="fine" d={`M${x + 0.3 * w} ${y + 0.42 * h} h${0.4 * w} M${x + 0.3 * w} ${y + 0.58 * h} h${0.16 * w} m${0.08 * w} 0 h${0.16 * w}`} />
    </>
  ),
};

export function Symbol({ part }: { part: Part }) {
  const draw = DRAW[part.symbol] ?? box;
  return part.flip
    ? <g transform={`translate(${2 * part.x + part.w} 0) scale(-1 1)`}>{draw(part)}</g>
    : <g>{draw(part)}</g>;
}
