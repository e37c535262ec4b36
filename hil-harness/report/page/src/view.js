// What all panels share: the span of time that is shown and the instant that is pointed at.

export class View {
  constructor(first, last) {
    this.first = first;
    this.last = last;
    this.from = first;
    this.to = last;
    this.instant = null;
    this.spanListeners = [];
    this.instantListeners = [];
  }

  onSpan(listener) {
    this.spanListeners.push(listener);
  }

  onInstant(listener) {
    this.instantListeners.push(listener);
  }

  show(from, to) {
    const whole = this.last - this.first;
    const length = Math.min(Math.max(to - from, whole * 1e-4), whole);
    this.from = Math.min(Math.max(from, this.first), this.last - length);
    this.to = this.from + length;
    for (const listener of this.spanListeners) listener();
    this.point(this.instant !== null && this.instant >= this.from && this.instant <= this.to ? this.instant : null);
  }

  showAll() {
    this.show(this.first, this.last);
  }

  zoom(factor) {
    const length = this.to - this.from;
    const middle = this.instant ?? this.from + length / 2;
    const share = (middle - this.from) / length;
    this.show(middle - share * length * factor, middle + (1 - share) * length * factor);
  }

  point(instant) {
    this.instant = instant === null ? null : Math.min(Math.max(instant, this.from), this.to);
    for (const listener of this.instantListeners) listener();
  }

  /** Moves the instant by a share of the span, and the span with it at its ends. */
  move(share) {
    const length = this.to - this.from;
    const target = (this.instant ?? this.from + length / 2) + share * length;
    if (target < this.from) this.show(this.from - length / 4, this.to - length / 4);
    if (target > this.to) this.show(this.from + length / 4, this.to + length / 4);
    this.point(target);
  }
}
