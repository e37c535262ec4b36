// What lies behind and over the curves of every panel: night, dusk and dawn, harm below a floor, events.

function clipped(chart, from, to) {
  const { left, width } = chart.bbox;
  const a = Math.max(chart.valToPos(from, "x", true), left);
  const b = Math.min(chart.valToPos(to, "x", true), left + width);
  return b > a ? [a, b] : null;
}

export function drawDaylight(chart, daylight, palette) {
  for (const { kind, from, to } of daylight) {
    const edges = clipped(chart, from, to);
    if (!edges) continue;
    chart.ctx.fillStyle = kind === "night" ? palette.night : palette.twilight;
    chart.ctx.fillRect(edges[0], chart.bbox.top, edges[1] - edges[0], chart.bbox.height);
  }
}

/** Slanted strokes below the floor, so that it is distinguished without colour. */
export function drawFloor(chart, panel, palette) {
  if (panel.floor === undefined) return;
  const { ctx, bbox } = chart;
  const pixel = devicePixelRatio;
  const bottom = bbox.top + bbox.height;
  const top = Math.max(chart.valToPos(panel.floor, "y", true), bbox.top);
  if (top >= bottom) return;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, top, bbox.width, bottom - top);
  ctx.clip();
  ctx.strokeStyle = palette.limit;
  ctx.globalAlpha = 0.28;
  ctx.lineWidth = pixel;
  ctx.beginPath();
  for (let x = bbox.left - bbox.height; x < bbox.left + bbox.width; x += 7 * pixel) {
    ctx.moveTo(x, bottom);
    ctx.lineTo(x + bbox.height, bottom - bbox.height);
  }
  ctx.stroke();
  ctx.restore();
  ctx.save();
  ctx.strokeStyle = palette.limit;
  ctx.setLineDash([12, 4, 3, 4].map((length) => length * pixel));
  ctx.lineWidth = 1.4 * pixel;
  ctx.beginPath();
  ctx.moveTo(bbox.left, top);
  ctx.lineTo(bbox.left + bbox.width, top);
  ctx.stroke();
  ctx.setLineDash([]);
  ctx.font = `italic ${11 * pixel}px ${getComputedStyle(document.body).fontFamily}`;
  ctx.textBaseline = "middle";
  ctx.textAlign = "left";
  const words = `below the line ${panel.belowFloor}`;
  const inside = bottom - top > 17 * pixel;
  const y = inside ? (top + bottom) / 2 : top - 9 * pixel;
  const x = bbox.left + bbox.width - ctx.measureText(words).width - 10 * pixel;
  ctx.fillStyle = palette.paper;
  ctx.fillRect(x - 4 * pixel, y - 8 * pixel, ctx.measureText(words).width + 8 * pixel, 15 * pixel);
  ctx.fillStyle = palette.limit;
  ctx.fillText(words, x, y);
  ctx.restore();
}

/** A dotted line from below the upper edge at each event; words drawn later cover it. */
export function drawEvents(chart, events, palette) {
  const { ctx, bbox } = chart;
  const pixel = devicePixelRatio;
  ctx.save();
  ctx.strokeStyle = palette.soft;
  ctx.lineWidth = pixel;
  ctx.setLineDash([pixel, 3 * pixel]);
  let before = -Infinity;
  for (const event of events) {
    const x = chart.valToPos(event.hours, "x", true);
    if (x < bbox.left || x > bbox.left + bbox.width || x - before < 3 * pixel) continue;
    before = x;
    ctx.beginPath();
    ctx.moveTo(x, bbox.top);
    ctx.lineTo(x, bbox.top + bbox.height);
    ctx.stroke();
  }
  ctx.restore();
}
