// The same moves by keyboard as by mouse.

export function controlByKeys(element, view) {
  element.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const stride = event.shiftKey ? 0.05 : 0.005;
    const moves = {
      ArrowLeft: () => view.move(-stride),
      ArrowRight: () => view.move(stride),
      "+": () => view.zoom(0.5),
      "=": () => view.zoom(0.5),
      "-": () => view.zoom(2),
      0: () => view.showAll(),
      Escape: () => view.point(null),
    };
    const move = moves[event.key];
    if (!move) return;
    event.preventDefault();
    move();
  });
}
