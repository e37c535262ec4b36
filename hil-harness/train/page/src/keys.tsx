// Keys: every panel and the acts that must be quick. Single keys can be switched off (WCAG 2.2, 2.1.4), and none acts
// while somebody types.
import { useLayoutEffect, useRef } from "preact/hooks";
import { focusPanel } from "./panel";

export interface Key {
  key: string;
  text: string;
  act: () => void;
}

const STORED = "duskline-single-keys";

export const singleKeysOn = () => localStorage.getItem(STORED) !== "off";

const PANELS: [string, string, string][] = [["1", "margins", "coke margins"], ["2", "picture", "plant"], ["3", "commands", "mode and set-points"],
  ["4", "alarms", "alarms"], ["5", "trends", "trends"], ["6", "procedures", "procedures"], ["7", "log", "log"], ["8", "exercise", "exercise"],
  ["9", "instructor", "instructor"], ["0", "modules", "modules"]];

export function panelKeys(): Key[] {
  return PANELS.filter(([, id]) => document.getElementById(id)).map(([key, id, text]) => ({ key, text: `go to ${text}`, act: () => focusPanel(id) }));
}

export function useKeys(keys: () => Key[]): void {
  const latest = useRef(keys);
  latest.current = keys;
  useLayoutEffect(() => {
    const press = (event: KeyboardEvent) => {
      const target = event.target as HTMLElement;
      const dialog = target.closest("dialog");  // one that was closed just now still holds the focus
      if (event.ctrlKey || event.metaKey || event.altKey || (dialog ? dialog.open : target.closest("input, select, textarea"))) return;
      if (event.key !== "?" && !singleKeysOn()) return;
      const key = latest.current().find((k) => k.key === event.key);
      if (!key) return;
      event.preventDefault();
      if (!event.repeat) key.act();
    };
    document.addEventListener("keydown", press);
    return () => document.removeEventListener("keydown", press);
  }, []);
}

export function KeyDialog({ keys, open, onClose }: { keys: Key[]; open: boolean; onClose: () => void }) {
  const dialog = useRef<HTMLDialogElement>(null);
  useLayoutEffect(() => {
    if (open) dialog.current?.showModal();
    else dialog.current?.close();
  }, [open]);
  return (
    <dialog ref={dialog} onClose={onClose} aria-labelledby="keys-title">
      <h2 id="keys-title">Keys</h2>
      <dl class="keys">
        {keys.map((k) => <div key={k.key}><dt><kbd>{k.key}</kbd></dt><dd>{k.text}</dd></div>)}
        <div><dt><kbd>Tab</kbd></dt><dd>to the next button, field or chart; <kbd>Enter</kbd> presses it, <kbd>Esc</kbd> cancels</dd></div>
        <div><dt><kbd>←</kbd> <kbd>→</kbd></dt><dd>on a chart: move the cursor, with <kbd>Shift</kbd> in larger steps</dd></div>
      </dl>
      <p><label><input type="checkbox" defaultChecked={singleKeysOn()}
        onChange={(e) => localStorage.setItem(STORED, e.currentTarget.checked ? "on" : "off")} /> single keys act</label></p>
      <p class="soft">Training is no permission for live work. The model is no safety case; local codes and licensed practice decide.{" "}
        <a href="/licences.txt">Licences of the libraries in this page</a></p>
      <form method="dialog"><button type="submit" class="act">Close</button></form>
    </dialog>
  );
}
