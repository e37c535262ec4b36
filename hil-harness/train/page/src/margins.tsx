// The centre of attention: each cell group's voltage against the coke limit that moves. No instrument measures the
// limit, so it is drawn, and named, as the estimate that it is.
import { useRef } from "preact/hooks";
import { Panel } from "./panel";
import { Sparkline } from "./sparkline";
import type { CellGroup, Margins } from "./protocol";
import { useTopics, type Store } from "./store";
import { fixed, plain, withUnit } from "./words";

const PER_VOLT: Record<string, number> = { V: 1, mV: 1e-3 };

interface Row {
  cell: CellGroup;
  voltage: number | null;
  limit: number | null;
  margin: number | null;
  sigma: number | null;
}

function rowOf(store: Store, margins: Margins, cell: CellGroup): Row {
  const voltage = store.value(cell.voltage);
  const margin = store.value(cell.margin);
  const limit = cell.limit ? store.value(cell.limit)
    : voltage === null || margin === null ? null : voltage + margin * (PER_VOLT[margins.unit] ?? 1);
  return { cell, voltage, margin, limit, sigma: store.value(cell.sigma) };
}

/** A range of the axis that holds all marks, in steps of 50 mV, and does not jump when a mark nears its end. */
function useRange(rows: Row[]): [number, number] {
  const kept = useRef<[number, number] | null>(null);
  const values = rows.flatMap((row) => [row.voltage, row.limit]).filter((v): v is number => v !== null);
  if (!values.length) return kept.current ?? [0, 1];
  const low = Math.min(...values);
  const high = Math.max(...values);
  const now = kept.current;
  if (!now || low < now[0] || high > now[1] || now[1] - now[0] > 3 * (high - low) + 0.3)
    kept.current = [Math.max(low > -0.02 ? 0 : -Infinity, Math.floor((low - 0.08) / 0.05) * 0.05), Math.ceil((high + 0.03) / 0.05) * 0.05];
  return kept.current as [number, number];
}

function ticks([from, to]: [number, number]): number[] {
  const step = [0.05, 0.1, 0.2, 0.5, 1].find((s) => (to - from) / s <= 8) ?? 1;
  const first = Math.ceil(from / step - 1e-9);
  return Array.from({ length: Math.floor(to / step + 1e-9) - first + 1 }, (_, i) => (first + i) * step);
}

function levelOf(margins: Margins, margin: number | null): "" | "low" | "harm" {
  if (margin === null) return "";
  if (margins.trip !== null && margin < margins.trip) return "harm";
  return margins.alarm !== null && margin < margins.alarm ? "low" : "";
}

/** Labels at the ends of the axis stay within it. */
function edge(t: number, [from, to]: [number, number]): string {
  const share = (t - from) / (to - from);
  return share < 0.04 ? "at-begin" : share > 0.96 ? "at-end" : "";
}

const LEVEL_WORDS = { "": "", low: "low", harm: "trip" };

function Track({ row, margins, span }: { row: Row; margins: Margins; span: [number, number] }) {
  const x = (v: number) => Math.max(0, Math.min(1000, (1000 * (v - span[0])) / (span[1] - span[0])));
  const { voltage, limit } = row;
  const near = (margins.alarm ?? 0) * (PER_VOLT[margins.unit] ?? 1);
  return (
    <svg class="track" viewBox="0 0 1000 20" preserveAspectRatio="none" aria-hidden="true">
      <rect class="ground" x="0" y="4" width="1000" height="12" />
      {ticks(span).map((t) => <line key={t} class="tick" x1={x(t)} x2={x(t)} y1="0" y2="20" />)}
      {limit !== null && <rect class="near" x={x(limit - near)} y="4" width={x(limit) - x(limit - near)} height="12" />}
      {limit !== null && <rect class="beyond" x={x(limit)} y="4" width={1000 - x(limit)} height="12" />}
      {voltage !== null && <rect class="bar" x="0" y="6" width={x(voltage)} height="8" />}
      {limit !== null && <line class="limit" x1={x(limit)} x2={x(limit)} y1="0" y2="20" />}
    </svg>
  );
}

interface CellRowProps {
  store: Store;
  row: Row;
  margins: Margins;
  span: [number, number];
  least: boolean;
  spread: boolean;  ///< whether any row has a standard deviation, which then takes room in each
}

function CellRow({ store, row, margins, span, least, spread }: CellRowProps) {
  const level = levelOf(margins, row.margin);
  const quality = store.quality(row.cell.voltage);
  const suspect = quality === "suspect" ? " suspect" : quality === "old" && row.voltage === null ? " no reading" : "";
  return (
    <tr class={`${level ? `level-${level}` : ""} ${store.stale ? "old" : ""} ${suspect ? "suspect" : ""}`}>
      <th scope="row">{row.cell.title}{least && <small>least</small>}</th>
      <td class="track-place"><Track row={row} margins={margins} span={span} /></td>
      <td class="amount margin">
        {level && <span class="level">{LEVEL_WORDS[level]}</span>}
        <b>{row.margin === null ? "–" : fixed(row.margin, 0)}</b>
        {spread && <small>{row.sigma === null ? "" : `±${fixed(row.sigma, 0)}`}</small>}
      </td>
      <td class="amount">{row.voltage === null ? "–" : fixed(row.voltage, 3)}{suspect && <small>{suspect}</small>}</td>
      <td class="amount soft">{row.limit === null ? "–" : fixed(row.limit, 3)}</td>
    </tr>
  );
}

export function MarginPanel({ store, margins }: { store: Store; margins: Margins }) {
  useTopics(store, "frame");
  const rows = margins.cells.map((cell) => rowOf(store, margins, cell));
  const span = useRange(rows);
  const known = rows.filter((row) => row.margin !== null);
  const least = known.reduce<Row | null>((a, b) => (a && (a.margin as number) <= (b.margin as number) ? a : b), null);
  // A standard deviation that all rows share is that of the least margin.
  if (new Set(margins.cells.map((cell) => cell.sigma)).size === 1 && margins.cells.length > 1)
    for (const row of rows) if (row !== least) row.sigma = null;
  const note = [margins.alarm !== null && `alarm below ${withUnit(plain(margins.alarm), margins.unit)}`,
    margins.trip !== null && `trip below ${withUnit(plain(margins.trip), margins.unit)}`].filter(Boolean).join(", ");
  return (
    <Panel id="margins" title={margins.title} note="limit and margin are estimates of the controller"
      aside={least && <Sparkline store={store} signal={least.cell.margin} title={least.cell.title} />}>
      <div class="scroll">
        <table class="margins">
          <thead>
            <tr>
              <th scope="col"><span class="unseen">Cell group</span></th>
              <th scope="col" class="axis" aria-label="Voltage against its limit">
                {ticks(span).map((t) => (
                  <span key={t} class={`axis-label ${edge(t, span)}`} style={{ left: `${(100 * (t - span[0])) / (span[1] - span[0])}%` }}>
                    {fixed(t, 2)}
                  </span>
                ))}
              </th>
              <th scope="col" class="amount">margin, {margins.unit}</th>
              <th scope="col" class="amount">voltage, V</th>
              <th scope="col" class="amount">limit, V</th>
            </tr>
          </thead>
          <tbody>
            {rows.map((row) => (
              <CellRow key={row.cell.name} store={store} row={row} margins={margins} span={span} least={row === least}
                spread={rows.some((r) => r.sigma !== null)} />
            ))}
          </tbody>
        </table>
      </div>
      {store.frame && known.length === 0 && <p class="soft">The controller gives no margin now: it means nothing until the cells are hot.</p>}
      <p class="legend">
        <span><i class="key bar" /> voltage</span>
        <span><i class="key limit" /> coke limit (estimate)</span>
        <span><i class="key near" /> {note}</span>
      </p>
    </Panel>
  );
}
