// A panel: a region with a heading that can take the focus, so that keys lead to it.
import type { ComponentChildren } from "preact";
import { useContext } from "preact/hooks";
import { Pointed } from "./pointed";

interface Props {
  id: string;
  title: string;
  note?: string;
  aside?: ComponentChildren;
  children: ComponentChildren;
}

export function Panel({ id, title, note, aside, children }: Props) {
  const pointed = useContext(Pointed);
  return (
    <section id={id} class={`panel ${pointed.has(id) ? "pointed" : ""}`} aria-labelledby={`${id}-title`}>
      <div class="panel-head">
        <h2 id={`${id}-title`} tabIndex={-1}>{title}{note && <small>{note}</small>}</h2>
        {aside}
      </div>
      {children}
    </section>
  );
}

export function focusPanel(id: string): void {
  const title = document.getElementById(`${id}-title`);
  title?.focus({ preventScroll: true });
  title?.closest("section")?.scrollIntoView({ block: "nearest" });
}
