// A question before an act. It takes the focus once; Esc takes it back; afterwards the focus stands where it was.
import { useLayoutEffect, useRef } from "preact/hooks";

interface Props {
  text: string;
  onYes: () => unknown;
  onNo: () => void;
  /** Where the focus goes when what had it is gone. */
  back?: string;
}

export function Confirm({ text, onYes, onNo, back }: Props) {
  const yes = useRef<HTMLButtonElement>(null);
  useLayoutEffect(() => {
    const before = document.activeElement as HTMLElement | null;
    yes.current?.focus();
    return () => setTimeout(() => {
      if (document.activeElement !== document.body) return;  // somebody went elsewhere
      (before?.isConnected && before !== document.body ? before : document.getElementById(back ?? ""))?.focus();
    });
  }, []);
  return (
    <span class="confirm" role="group" aria-label="Confirm" onKeyDown={(e) => { if (e.key === "Escape") onNo(); }}>
      <span>{text}</span>
      <button type="button" class="act" ref={yes} onClick={() => void onYes()}>Confirm</button>
      <button type="button" class="plain" onClick={onNo}>Cancel</button>
    </span>
  );
}
