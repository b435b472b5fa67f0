// The live signal of a cell while it settles.
import uPlot from "/uPlot.esm.js";
import { byId } from "./dom.js";

const KEPT = 900; // samples: 15 min at one a second

export function stabilityPlot() {
  const data = [[], []];
  let chart = null;
  function start(box) {
    const ink = getComputedStyle(document.body).color;
    const axis = { stroke: ink, grid: { stroke: "#8886", width: 1 }, ticks: { stroke: "#8886" } };
    chart = new uPlot(
      {
        width: Math.max(240, box.clientWidth),
        height: 220,
        legend: { show: false },
        cursor: { show: false },
        axes: [
          { ...axis, values: [[1, "{HH}:{mm}:{ss}", null, null, null, null, null, null, 1]] },
          { ...axis, size: 64, label: "signal, mV" },
        ],
        series: [{}, { stroke: ink, width: 2, points: { show: false } }],
      },
      data,
      box,
    );
  }
  return {
    add(at, signal_mv) {
      if (typeof signal_mv !== "number" || data[0][data[0].length - 1] >= at / 1000) return;
      data[0].push(at / 1000);
      data[1].push(signal_mv);
      if (data[0].length > KEPT) data.forEach((column) => column.shift());
    },
    /** Draws into the box of the page, as soon as that is there. */
    draw() {
      const box = byId("stability");
      if (!box || data[0].length < 2) return;
      if (chart && chart.root.parentNode !== box) {
        chart.destroy();
        chart = null;
      }
      if (!chart) start(box);
      chart.setData(data);
    },
    clear() {
      data.forEach((column) => column.splice(0));
    },
    stop() {
      chart?.destroy();
      chart = null;
    },
  };
}
