// Added to a page by a test: what can be measured of it, as JSON in an attribute of its root, or of the page around it
// when it stands in a frame (a window cannot be as narrow as a telephone).
(() => {
  const root = document.documentElement;
  const rgba = (text) => (text.match(/[\d.]+/g) ?? [0, 0, 0, 0]).map(Number);
  const linear = (byte) => { const c = byte / 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; };
  const luminance = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
  const contrast = (a, b) => {
    const [high, low] = [luminance(a), luminance(b)].sort((x, y) => y - x);
    return (high + 0.05) / (low + 0.05);
  };
  const ground = (node) => {
    for (let at = node; at; at = at.parentElement) {
      const colour = rgba(getComputedStyle(at).backgroundColor);
      if (colour.length === 3 || colour[3] === 1) return colour;
    }
    return [255, 255, 255];
  };
  /** The box of a text, cut by what scrolls or clips around it. */
  const visible = (box, node) => {
    let { left, right, top, bottom } = box;
    for (let at = node; at && at !== document.body; at = at.parentElement) {
      if (getComputedStyle(at).overflowX === "visible") continue;
      const clip = at.getBoundingClientRect();
      [left, right, top, bottom] = [Math.max(left, clip.left), Math.min(right, clip.right), Math.max(top, clip.top), Math.min(bottom, clip.bottom)];
    }
    return right > left + 1 && bottom > top + 1 ? { left, right, top, bottom } : null;
  };

  function texts() {
    const found = [];
    const walker = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const node = walker.currentNode;
      const parent = node.parentElement;
      if (!node.textContent.trim() || parent.closest("title, .unseen, noscript") || !parent.checkVisibility()) continue;
      const range = document.createRange();
      range.selectNodeContents(node);
      for (const rect of range.getClientRects()) {
        const box = visible(rect, parent);
        if (box) found.push({ ...box, text: node.textContent.trim().slice(0, 40), parent });
      }
    }
    return found;
  }

  const meet = (a, b, spare) => a.left < b.right - spare && b.left < a.right - spare && a.top < b.bottom - spare && b.top < a.bottom - spare;

  function overlaps(all) {
    const found = [];
    const sorted = [...all].sort((a, b) => a.top - b.top);
    sorted.forEach((a, i) => {
      for (let j = i + 1; j < sorted.length && sorted[j].top < a.bottom; j += 1)
        if (sorted[j].parent !== a.parent && meet(a, sorted[j], 3)) found.push(`${a.text} | ${sorted[j].text}`);
    });
    return found;
  }

  /** Words of a lane that a shape crosses: partly inside, partly outside. */
  function crossed() {
    const found = [];
    for (const picture of document.querySelectorAll(".lane-picture")) {
      const shapes = [...picture.querySelectorAll("[class^=tone-]")].map((node) => node.getBoundingClientRect());
      for (const text of picture.querySelectorAll("text")) {
        const box = text.getBoundingClientRect();
        for (const shape of shapes)
          if (meet(box, shape, 2) && !(shape.left <= box.left + 1 && shape.right >= box.right - 1)) found.push(text.textContent);
      }
    }
    return found;
  }

  function leastContrast(all) {
    let least = { ratio: 99, text: "" };
    for (const { parent, text } of all) {
      const style = getComputedStyle(parent);
      if (parent.closest("[aria-pressed=false].entry, :disabled, b[aria-hidden]")) continue; // signs of a legend are no text
      const colour = rgba(parent.closest("svg") ? style.fill : style.color);
      let under = ground(parent);
      if (parent.closest(".lane-picture")) {
        const box = parent.getBoundingClientRect();
        const shape = [...parent.parentElement.querySelectorAll("[class^=tone-]")].find((node) => meet(box, node.getBoundingClientRect(), 2));
        if (shape) under = rgba(getComputedStyle(shape).fill);
      }
      const ratio = contrast(colour, under);
      if (ratio < least.ratio) least = { ratio, text };
    }
    return least;
  }

  /** Presses the chips and the keys that the page promises, and says what came of it. */
  function used() {
    const chips = [...document.querySelectorAll(".chip")];
    const list = document.querySelector(".events");
    const rows = () => list.dataset.rows;
    const result = { chips: chips.length, reachable: chips.every((chip) => chip.tabIndex === 0 && chip.tagName === "BUTTON") };
    if (chips.length) {
      const before = rows();
      const pressed = chips[0].getAttribute("aria-pressed");
      chips[0].focus();
      result.focused = document.activeElement === chips[0];
      document.activeElement.click();
      result.filtered = rows() !== before && chips[0].getAttribute("aria-pressed") !== pressed;
      document.activeElement.click();
      result.restored = rows() === before;
    }
    const lanes = document.querySelector(".lanes");
    if (lanes) {
      const words = () => document.querySelector(".strip-words").textContent;
      const whole = words();
      const press = (key) => lanes.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
      press("+");
      result.zoomed = words() !== whole;
      press("0");
      result.unzoomed = words() === whole;
    }
    return result;
  }

  /** Chooses the last signal and the first place of the page's list, and says whether it was drawn. */
  function chosen() {
    const names = document.querySelector("#signal");
    if (!names) return {};
    const title = () => document.querySelector("#figure-a h3").textContent;
    const before = title();
    names.selectedIndex = names.options.length - 1;
    names.dispatchEvent(new Event("change"));
    return { drawn: title() !== before && document.querySelectorAll("#figure-a canvas").length === 1 };
  }

  const all = texts();
  const chart = document.querySelector(".plot .uplot");
  const measures = JSON.stringify({
    width: innerWidth, overflow: root.scrollWidth - innerWidth,
    dark: matchMedia("(prefers-color-scheme: dark)").matches,
    firstChart: chart ? chart.getBoundingClientRect().top + scrollY : -1,
    lanes: [...document.querySelectorAll(".lane:not([hidden])")].map((lane) => lane.dataset.lane),
    overlaps: overlaps(all), crossed: crossed(), contrast: leastContrast(all), texts: all.length, used: document.querySelector(".events") ? used() : {},
    selector: document.querySelectorAll("#signal option").length, chosen: chosen(),
  });
  if (parent === window) root.dataset.measures = measures;
  else parent.postMessage(measures, "*");
})();
