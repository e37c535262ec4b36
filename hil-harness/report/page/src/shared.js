// What every page with charts over time does: draws its parts, and draws them again when something changes.
import "uplot/dist/uPlot.min.css";
import "./style.css";

export function assemble(run, parts) {
  const drawAll = () => parts.forEach((part) => part.draw());
  const resizeAll = () => parts.forEach((part) => part.resize());
  drawAll();
  parts[0].speak();
  run.filter.onChange(drawAll);
  run.view.onSpan(() => parts.forEach((part) => part.showSpan()));
  let waiting = false;
  run.view.onInstant(() => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      parts.forEach((part) => part.showInstant());
    });
  });
  let width = innerWidth;
  addEventListener("resize", () => {
    if (innerWidth === width) return;
    width = innerWidth;
    resizeAll();
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", drawAll);
  let opened = [];
  addEventListener("beforeprint", () => {
    document.documentElement.dataset.print = "";  // paper folds nothing away: EventList draws all
    drawAll();
    opened = [...document.querySelectorAll("details:not([open], .screen, .times)")];
    opened.forEach((one) => { one.open = true; });
  });
  addEventListener("afterprint", () => {
    delete document.documentElement.dataset.print;
    opened.forEach((one) => { one.open = false; });
    drawAll();
  });
  document.documentElement.dataset.panels = String(document.querySelectorAll(".plot canvas").length);
}
