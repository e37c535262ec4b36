// The sound of alarms: off until somebody switches it on (browsers allow none before a gesture). More tones and a
// shorter pause the higher the priority; silence lasts until another alarm comes.
import type { Priority } from "./protocol";
import { urgent, type Store } from "./store";

const PAUSE: Record<Priority, number> = { urgent: 1.5, high: 2, medium: 5, low: 10 };  // s
const TONES: Record<Priority, number[]> = { urgent: [880, 660, 880, 660], high: [880, 660, 880], medium: [660, 550], low: [440] };  // Hz
const LENGTH = 0.16;  // s a tone

export class Sound {
  on = false;
  private context: AudioContext | null = null;
  private silenced = new Set<string>();
  private next = 0;
  private sounded = "";

  constructor(private readonly store: Store) {
    setInterval(() => this.tick(), 250);
  }

  toggle(): void {
    this.on = !this.on;
    if (this.on) {
      this.context ??= new AudioContext();
      void this.context.resume();
      this.silenced.clear();
      this.next = 0;
    }
    this.store.notify("view");
  }

  silence(): void {
    this.silenced = new Set(urgent(this.store).map((alarm) => alarm.name));
  }

  private tick(): void {
    const waiting = urgent(this.store);
    for (const name of this.silenced)
      if (!waiting.some((alarm) => alarm.name === name)) this.silenced.delete(name);
    const alarm = waiting.find((a) => !this.silenced.has(a.name));
    if (!this.on || !this.context || !alarm) return;
    if (alarm.name !== this.sounded) this.next = 0;  // another one does not wait for the pause of the one before
    if (this.context.currentTime < this.next) return;
    this.sounded = alarm.name;
    const priority = this.store.alarmsByName.get(alarm.name)?.priority ?? "low";
    TONES[priority].forEach((pitch, i) => this.tone(pitch, i * LENGTH * 1.25));
    this.next = this.context.currentTime + PAUSE[priority];
  }

  private tone(pitch: number, after: number): void {
    const context = this.context as AudioContext;
    const start = context.currentTime + after;
    const oscillator = new OscillatorNode(context, { frequency: pitch });
    const gain = new GainNode(context, { gain: 0 });
    gain.gain.linearRampToValueAtTime(0.15, start + 0.02);
    gain.gain.setValueAtTime(0.15, start + LENGTH - 0.03);
    gain.gain.linearRampToValueAtTime(0, start + LENGTH);
    oscillator.connect(gain).connect(context.destination);
    oscillator.start(start);
    oscillator.stop(start + LENGTH);
  }
}
