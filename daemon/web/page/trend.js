// A curve over time: mean as a line, lowest to highest as a band, bad stretches hatched, gaps left open.
import uPlot from "/uPlot.esm.js";
import * as api from "./api.js";
import { h } from "./dom.js";
import { quantities } from "./format.js";
import { bothTimes } from "./times.js";
import { describe, stretchesOf, toColumns } from "./trend_data.js";

const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
const resolved = (name) => {
  // canvas does not know light-dark(): let the browser choose
  const probe = h("span");
  probe.style.color = `var(${name})`;
  document.body.append(probe);
  const value = getComputedStyle(probe).color;
  probe.remove();
  return value || colour(name);
};

/** Labels of the time axis: local time of 24 hours, with the day where it changes. */
const HOUR = 3600;
const clockOf = [
  [365 * 24 * HOUR, "{YYYY}", null, null, null, null, null, null, 1],
  [28 * 24 * HOUR, "{YYYY}-{MM}", null, null, null, null, null, null, 1],
  [24 * HOUR, "{MM}-{DD}", "\n{YYYY}", null, null, null, null, null, 1],
  [60, "{HH}:{mm}", "\n{YYYY}-{MM}-{DD}", null, "\n{MM}-{DD}", null, null, null, 1],
  [1, "{HH}:{mm}:{ss}", "\n{YYYY}-{MM}-{DD}", null, "\n{MM}-{DD}", null, null, null, 1],
];

/** Draws into `box` and keeps it up to date. `zoomed(from, to)` hears what a person has selected. */
export function trendBox(box, wanted, zoomed = null) {
  const plot = h("div.plot", { role: "img", "aria-label": "The curve is being fetched" });
  const readout = h("p.readout.quiet", "\u00a0");
  const words = h("p.trend-words", "Fetching…");
  box.replaceChildren(plot, readout, legend(), words);
  let chart = null;
  let data = null;
  let stopped = false;
  let asked = 0;
  let ask = { ...wanted };

  async function fetchIt() {
    const mine = ++asked;
    try {
      const points = Math.max(100, Math.min(2000, Math.floor(box.clientWidth || 600)));
      const answer = await api.ask(
        api.address("/api/trend", {
          room: ask.room,
          sensor: ask.sensor,
          quantity: ask.quantity,
          from: new Date(Math.round(ask.from)).toISOString(),
          to: new Date(Math.round(ask.to ?? Date.now())).toISOString(),
          points,
        }),
      );
      if (stopped || mine !== asked) return;
      data = answer;
      draw();
    } catch (problem) {
      if (!stopped && mine === asked) words.textContent = `The curve could not be fetched: ${problem.message}`;
    }
  }

  function draw() {
    chart?.destroy();
    const told = describe(data, quantities[ask.quantity], bothTimes);
    plot.setAttribute("aria-label", told);
    words.textContent = told;
    chart = data.at_ms.length ? new uPlot(options(), toColumns(data, quantities[ask.quantity]), plot) : null;
  }

  function options() {
    const q = quantities[ask.quantity];
    const ink = resolved("--ink-2");
    const line = resolved("--line");
    const font = `${Math.round(parseFloat(getComputedStyle(document.documentElement).fontSize) * 0.8)}px sans-serif`;
    const axis = { stroke: ink, grid: { stroke: line, width: 1 }, ticks: { stroke: line }, font, labelFont: font };
    const size = parseFloat(getComputedStyle(document.documentElement).fontSize);
    const edge = { stroke: resolved("--band-edge"), width: 1, points: { show: false } };
    return {
      width: Math.max(200, box.clientWidth),
      height: Math.round(Math.max(200, Math.min(box.clientWidth * 0.45, size * 22))),
      legend: { show: false },
      cursor: { drag: { x: zoomed !== null, y: false, setScale: false } },
      scales: { x: { time: true, range: () => [data.from_ms / 1000, data.to_ms / 1000] }, y: { range: span } },
      axes: [
        { ...axis, size: size * 3.4, values: clockOf },
        { ...axis, size: size * 3.8, label: `${q.name}, ${q.axis}` },
      ],
      series: [{}, { stroke: resolved("--ink"), width: 2, points: { show: data.at_ms.length < 3 } }, edge, edge],
      bands: [{ series: [2, 3], fill: resolved("--band") }],
      hooks: { drawClear: [hatch], setCursor: [readOut], setSelect: [selected] },
    };
  }
  /** Flat curves get a little room, so that noise of the last digit does not look like a storm. */
  function span(_, low, high) {
    if (low === null) return [0, 1];
    const least = Math.max(Math.abs(high) * 0.002, 1e-9);
    const pad = Math.max((high - low) * 0.08, least);
    return [low - pad, high + pad];
  }
  function hatch(u) {
    const { left, top, width, height } = u.bbox;
    u.ctx.save();
    u.ctx.beginPath();
    u.ctx.rect(left, top, width, height);
    u.ctx.clip();
    u.ctx.strokeStyle = resolved("--bad-hatch");
    u.ctx.lineWidth = 2 * devicePixelRatio;
    for (const [from, to] of stretchesOf(data)) {
      const x0 = u.valToPos(from / 1000, "x", true);
      const x1 = Math.max(u.valToPos(to / 1000, "x", true), x0 + 4 * devicePixelRatio);
      u.ctx.save();
      u.ctx.beginPath();
      u.ctx.rect(x0, top, x1 - x0, height);
      u.ctx.clip();
      u.ctx.beginPath();
      for (let x = x0 - height; x < x1; x += 10 * devicePixelRatio) {
        u.ctx.moveTo(x, top + height);
        u.ctx.lineTo(x + height, top);
      }
      u.ctx.stroke();
      u.ctx.restore();
    }
    u.ctx.restore();
  }
  function readOut(u) {
    const i = u.cursor.idx;
    if (i === null || i === undefined || !data.at_ms[i]) {
      readout.textContent = "\u00a0";
      return;
    }
    const q = quantities[ask.quantity];
    const bad = data.bad?.[i] ? `; ${data.bad[i]} bad` : "";
    readout.textContent = `${bothTimes(data.at_ms[i])}: mean ${q.text(data.mean[i])}, ${q.text(data.min[i])} to ${q.text(data.max[i])}${bad}`;
  }
  function selected(u) {
    if (!zoomed || u.select.width < 5) return;
    const at = (px) => u.posToVal(px, "x") * 1000;
    zoomed(at(u.select.left), at(u.select.left + u.select.width));
  }

  const resized = new ResizeObserver(() => {
    if (chart && Math.abs(chart.width - box.clientWidth) > 2 && box.clientWidth > 0) draw();
  });
  resized.observe(box);
  const recoloured = () => data && draw();
  const scheme = matchMedia("(prefers-color-scheme: dark)");
  window.addEventListener("themechange", recoloured);
  scheme.addEventListener("change", recoloured);
  fetchIt();

  let drawn = 0;
  return {
    show(next) {
      ask = { ...ask, ...next };
      return fetchIt();
    },
    /** A live reading at the right end; only where the curve reaches the present. */
    add(reading) {
      if (!data || ask.to !== null || reading.room !== ask.room || reading.sensor !== ask.sensor) return;
      const at = Date.parse(reading.at);
      const value = reading.quality === "bad" ? null : (reading[ask.quantity] ?? null);
      data.at_ms.push(at);
      for (const one of [data.mean, data.min, data.max]) one.push(value);
      data.bad.push(reading.quality === "bad" ? 1 : 0);
      data.from_ms += Math.max(0, at - data.to_ms);
      data.to_ms = Math.max(data.to_ms, at);
      if (!chart || performance.now() - drawn < 1000) return chart ?? draw();
      drawn = performance.now();
      chart.setData(toColumns(data, quantities[ask.quantity]));
    },
    stop() {
      stopped = true;
      resized.disconnect();
      window.removeEventListener("themechange", recoloured);
      scheme.removeEventListener("change", recoloured);
      chart?.destroy();
    },
  };
}

function legend() {
  const one = (kind, words) => h("li", h("span", { class: `swatch swatch-${kind}`, "aria-hidden": "true" }), words);
  return h(
    "ul.legend",
    one("mean", "mean"),
    one("band", "lowest to highest"),
    one("bad", "bad readings"),
    one("gap", "open: nothing recorded"),
  );
}
