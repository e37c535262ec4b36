// The page of linear models: margins, Bode, Nyquist, sensitivity, poles and steps.
import { el } from "./dom.js";
import { clock, duration, plain } from "./format.js";
import { Curves } from "./linear-curves.js";
import { Plane } from "./linear-plane.js";
import { colours, look } from "./theme.js";

const W = "frequency, rad/s";
const AIM = 1.8; // largest Ms that the acceptance of the tuning allows

const NAMES = {
  "disturbance.compressor_speed": "Compressor speed, disturbance step",
  "disturbance.stack_current": "Stack current, disturbance step",
  "disturbance.recycle_opening": "Recycle valve, disturbance step",
  oxygen_demand: "Oxygen demand, step",
  "controller.stack_setpoint": "Stack set-point, step",
  feed_flow: "feed flow",
  coke_margin: "least coke margin",
  compressor_speed: "compressor speed",
  "disturbance.exhaust_opening": "Exhaust valve, disturbance step",
  "disturbance.product_opening": "Product valve, disturbance step",
  "controller.header_pressure": "Set-point of the feed header, step",
  "controller.exhaust_pressure": "Set-point of the exhaust header, step",
  feed_header_pressure: "feed header pressure",
  feed_header_co_fraction: "CO in the feed header",
  exhaust_header_pressure: "exhaust header pressure",
  product_header_pressure: "product header pressure",
  recycle_opening: "recycle valve",
  exhaust_opening: "exhaust valve",
  product_opening: "product valve",
};
const named = (name) => NAMES[name] ?? name;
const infinite = (value, unit) => (value === null ? "∞" : `${plain(value)}${unit}`);

function marginTable(data) {
  const heads = ["loop", "Ms", "gain margin", "phase margin", "crossover", "delay margin", ""];
  const rows = data.loops.map((loop) => {
    const acts = loop.inCharge ? null : el("small", {}, "as if it held the current");
    const tuned = loop.tuning ? el("small", {}, loop.tuning) : null;
    const cell = (text) => el("td", { class: "amount" }, text);
    if (!loop.feedback)
      return el("tr", {}, el("th", { scope: "row" }, loop.name), el("td", { colspan: 5 }, "no feedback at this instant"), el("td", {}));
    const good = loop.stable;
    return el("tr", {}, el("th", { scope: "row" }, loop.name, acts, tuned), cell(plain(loop.ms)), cell(loop.gain === null ? "∞" : `${plain(loop.gain)} (${plain(20 * Math.log10(loop.gain))} dB)`),
      cell(infinite(loop.phase, "°")), cell(loop.crossover ? `${plain(loop.crossover)} rad/s` : "–"),
      cell(infinite(loop.delay, " s")),
      el("td", { class: `verdict ${good ? "good" : "bad"}` }, el("span", { "aria-hidden": "true" }, good ? "✓ " : "✕ "),
        good ? "stable" : "unstable"));
  });
  return el("section", { class: "facts margins" }, el("h2", {}, "Loops, each broken alone with the others closed"),
    el("div", { class: "wide" }, el("table", {},
      el("thead", {}, el("tr", {}, ...heads.map((head) => el("th", { scope: "col" }, head)))), el("tbody", {}, ...rows))));
}

// How much of a command's effect on a reading is left when the other loops hold theirs.
function relativeGainTables(data) {
  const { commands, readings, at } = data.relativeGains;
  return at.map(({ frequency, rows }) => el("section", { class: "facts" },
    el("h2", {}, `Relative gains at ${plain(frequency)} rad/s`),
    el("div", { class: "wide" }, el("table", {},
      el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "reading"), ...commands.map((name) =>
        el("th", { scope: "col" }, named(name))))),
      el("tbody", {}, ...rows.map((row, i) => el("tr", {}, el("th", { scope: "row" }, named(readings[i])),
        ...row.map((value) => el("td", { class: "amount" }, plain(Number(value.toFixed(3))))))))))));
}

function poleTable(data) {
  const seen = data.closedPoles.filter(([, imaginary]) => imaginary >= 0).slice(0, 10);
  const rows = seen.map(([re, im]) => {
    const [rate, turn] = [Math.log(Math.hypot(re, im)) / data.period, Math.atan2(im, re) / data.period];
    const size = Math.hypot(rate, turn);
    return el("tr", {}, el("td", { class: "amount" }, `${plain(-1 / rate)} s`),
      el("td", { class: "amount" }, turn ? `${plain(turn)} rad/s` : "–"),
      el("td", { class: "amount" }, turn ? plain(-rate / size) : "–"),
      el("td", { class: "amount" }, plain(Math.hypot(re, im))));
  });
  return el("section", { class: "facts" }, el("h2", {}, "Slowest poles of the closed loop"),
    el("div", { class: "wide" }, el("table", {},
      el("thead", {}, el("tr", {}, ...["time constant", "damped frequency", "damping", "|z|"].map((head) =>
        el("th", { scope: "col" }, head)))), el("tbody", {}, ...rows))));
}

function loopLines(data, values) {
  return data.loops.filter((loop) => loop.feedback).map((loop) => ({ label: loop.name, role: "value", data: values(loop) }));
}

function figure(number, title, unit, caption, part) {
  part.place.setAttribute("role", "img");
  part.place.setAttribute("aria-label", `${title}. ${caption}`);
  return el("figure", { class: "panel", id: `figure-${number}` },
    el("figcaption", {}, el("h3", {}, el("span", { class: "number" }, `${number}`), title,
      unit ? el("span", { class: "unit" }, ` ${unit}`) : null), el("p", {}, caption), part.legend), part.place);
}

function frequencyParts(data) {
  const dB = (size) => 20 * Math.log10(size);
  const margin = data.frequency.map(() => 0);
  return [
    ["Bode: magnitude of L", "dB", "Against the frequency in rad/s, up to half the rate of the ticks. A loop crosses over where it meets 0 dB.",
      new Curves(data.frequency, [...loopLines(data, (loop) => loop.sizes.map(dB)),
        { label: "crossover", role: "target", data: margin }], { log: true, xWord: W, yWord: "magnitude, dB", view: [-60, 80] })],
    ["Bode: phase of L", "°", "Its distance from −180° at the crossover is the phase margin.",
      new Curves(data.frequency, [...loopLines(data, (loop) => loop.phases),
        { label: "−180°", role: "limit", data: data.frequency.map(() => -180) }], { log: true, xWord: W, yWord: "phase, °", view: [-360, 90] })],
    ["Sensitivity of all loops together", "", `Largest singular value of S, commands scaled by their spans: ${
      plain(data.sensitivityPeak)} at ${plain(data.sensitivityPeakAt)} rad/s at most.`,
      new Curves(data.frequency, [{ label: "largest singular value", role: "value", data: data.sensitivity }],
        { log: true, xWord: W, yWord: "largest singular value", floor: 0 })],
  ];
}

function nyquist(data) {
  const loops = data.loops.filter((loop) => loop.feedback);
  const circle = (x, y, r, role, label) => ({ kind: "circle", x, y, r, role, label });
  return new Plane({ x: [-2.2, 1.2], y: [-1.7, 1.7], xWord: "real part of L", yWord: "imaginary part of L" }, [
    circle(0, 0, 1, "target", "|L| = 1"),
    circle(-1, 0, 1 / AIM, "limit", `Ms = ${AIM}: stay outside`),
    ...loops.map((loop) => ({ kind: "path", x: loop.real, y: loop.imaginary, label: loop.name })),
    { kind: "cross", points: [[-1, 0]], role: "limit", label: "−1" },
  ]);
}

function polePlane(data, window, words) {
  const sampled = data.plantPoles.map(([re, im]) => {
    const size = Math.exp(re * data.period);
    return [size * Math.cos(im * data.period), size * Math.sin(im * data.period)];
  });
  return new Plane({ ...window, ...words }, [
    { kind: "circle", x: 0, y: 0, r: 1, role: "target", label: "|z| = 1: limit of stability" },
    { kind: "cross", points: sampled, role: "first", label: "plant alone, commands held" },
    { kind: "ring", points: data.closedPoles, role: "third", label: "all loops closed" },
  ]);
}

function stepParts(data) {
  return data.steps.map((step) => {
    const lines = [{ label: "loops closed", role: "value", data: step.closed }];
    if (step.open.length) lines.push({ label: "plant alone", role: "other", data: step.open });
    const amount = `${step.amount > 0 ? "+" : ""}${plain(step.amount)}${step.unit ? ` ${step.unit}` : ""}`;
    return [`${named(step.input)} by ${amount}: ${named(step.output)}`, step.outputUnit, "Against time in s, change from the operating point.",
      new Curves(data.stepTime, lines, { xWord: "time, s", yWord: step.outputUnit ? `change, ${step.outputUnit}` : "change", small: true, follow: "closed" })];
  });
}

function build() {
  const data = JSON.parse(document.getElementById("data").textContent);
  const words = { xWord: "real part of z", yWord: "imaginary part of z" };
  const sections = [
    ["Frequency", frequencyParts(data)],
    ["Nyquist", [["Nyquist plot of each loop", "", "The distance of a curve from −1 is 1/|S|; at its least it is 1/Ms.", nyquist(data)]]],
    ["Poles", [
      ["Discrete-time poles", "", "One multiplication by z is one tick.", polePlane(data, { x: [-1.1, 1.1], y: [-1.1, 1.1] }, words)],
      ["The same near z = 1", "", "Where everything slower than ten ticks lies.", polePlane(data, { x: [0.9, 1.01], y: [-0.055, 0.055] }, words)],
    ]],
    ["Steps", stepParts(data)],
  ];
  const parts = [];
  const nodes = [];
  for (const [title, figures] of sections) {
    nodes.push(el("h2", { class: "section" }, title));
    for (const [name, unit, caption, part] of figures) {
      parts.push(part);
      nodes.push(figure(parts.length, name, unit, caption, part));
    }
  }
  document.getElementById("report").append(el("header", {},
    el("p", { class: "kind" }, "Linear models of an instant"),
    el("h1", {}, data.title),
    el("p", { class: "provenance" }, [`${duration(data.time / 3600, true)} after the start`,
      `${clock(data.localTime * 24)} local solar time`, `law ${data.law}`, `mode ${data.mode}`,
      `active current limit: ${data.limiter}`, `tick ${plain(data.period)} s`,
      `controller: mean over ${data.ticks} ticks`].join(" · ")),
    ...(data.warning ? [el("p", { role: "note" }, `Warning: ${data.warning}.`)] : []),
    el("div", { class: "linear-tables" }, marginTable(data), poleTable(data)),
    ...relativeGainTables(data)), ...nodes,
    el("footer", {}, el("p", {}, "Matrices, names and units are in linear.json and the .mtx files beside this page. Dead-bands, limits " +
      "and noise are not in a linear model. A model is no proof of safety.")));
  const drawAll = () => {
    const palette = colours();
    for (const part of parts) part.draw(palette, look);
  };
  drawAll();
  let width = innerWidth;
  addEventListener("resize", () => {
    if (innerWidth === width) return;
    width = innerWidth;
    drawAll();
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", drawAll);
  document.documentElement.dataset.panels = String(document.querySelectorAll(".plot canvas, .plot svg").length);
}

addEventListener("error", (event) => { document.documentElement.dataset.error = event.message; });
build();
