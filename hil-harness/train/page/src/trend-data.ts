// The columns behind the trends: what the server has kept, then what arrives, at the pace that the span can show.
import type { Store } from "./store";

export const POINTS = 600;

export interface Column {
  value: (number | null)[];
  low: (number | null)[];
  high: (number | null)[];
}

export class TrendData {
  hours: number[] = [];
  columns = new Map<string, Column>();
  problem = "";
  private request = 0;
  private between = new Map<string, [number, number]>();  // least and greatest since the latest row

  constructor(private readonly store: Store, private readonly signals: string[], readonly span: number) {
    for (const name of signals) this.columns.set(name, { value: [], low: [], high: [] });
  }

  get end(): number {
    return this.store.now / 3600;
  }

  get begin(): number {
    return Math.max(0, this.end - this.span / 3600);
  }

  async load(): Promise<void> {
    if (!this.signals.length) return;
    const mine = ++this.request;
    const end = this.store.now;
    try {
      const history = await this.store.history(this.signals, Math.max(0, end - this.span), end, POINTS);
      if (mine !== this.request) return;
      this.problem = "";
      this.hours = history.t.map((t) => t / 3600);
      for (const [name, column] of this.columns) {
        const value = history[name] ?? this.hours.map(() => null);
        column.value = [...value];
        column.low = [...(history[`${name}_min`] ?? value)];
        column.high = [...(history[`${name}_max`] ?? value)];
      }
    } catch (error) {
      this.problem = error instanceof Error ? error.message : String(error);
    }
  }

  /** Takes the values of now; true when there is a new row. */
  follow(): boolean {
    const now = this.end;
    if (!this.store.stale) for (const name of this.signals) this.gather(name);
    const last = this.hours[this.hours.length - 1] ?? -1;
    if (this.store.stale || now <= last || now - last < this.span / 3600 / POINTS) return false;
    this.hours.push(now);
    for (const [name, column] of this.columns) {
      const value = this.store.linkLost ? null : this.store.value(name);
      const [low, high] = this.between.get(name) ?? [value, value];
      column.value.push(value);
      column.low.push(value === null ? null : low);
      column.high.push(value === null ? null : high);
    }
    this.between.clear();
    while (this.hours.length > 2 * POINTS || (this.hours[1] ?? now) < this.begin) {
      this.hours.shift();
      for (const column of this.columns.values())
        for (const values of [column.value, column.low, column.high]) values.shift();
    }
    return true;
  }

  private gather(name: string): void {
    const value = this.store.value(name);
    if (value === null) return;
    const [low, high] = this.between.get(name) ?? [value, value];
    this.between.set(name, [Math.min(low, value), Math.max(high, value)]);
  }

  /** The row nearest to an instant (h), or the last. */
  rowAt(instant: number | null): number {
    if (instant === null) return this.hours.length - 1;
    let row = 0;
    this.hours.forEach((hour, i) => { if (Math.abs(hour - instant) < Math.abs((this.hours[row] as number) - instant)) row = i; });
    return row;
  }
}
