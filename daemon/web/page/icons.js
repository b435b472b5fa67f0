// Shapes that stand beside words, so that colour never speaks alone. Decorative: the word says it.
import { h } from "./dom.js";

const shapes = {
  octagon: ["M7.5 1h9L23 7.5v9L16.5 23h-9L1 16.5v-9z", "M12 6v8M12 16.5v2"],
  triangle: ["M12 1.5 23.5 22H.5z", "M12 8.5v7M12 17.5v2"],
  diamond: ["M12 .8 23.2 12 12 23.2.8 12z", "M12 6.5v7M12 15.5v2"],
  circle: ["M12 1.5a10.5 10.5 0 1 1 0 21 10.5 10.5 0 0 1 0-21z", "M12 11v7M12 6v2"],
};
const lines = {
  unseen: "M2 12s4-7 10-7 10 7 10 7-4 7-10 7S2 12 2 12zM12 9a3 3 0 1 1 0 6 3 3 0 0 1 0-6zM3 21 21 3",
  broken: "M3 12h5l2-5 2 10M15 7l6 10M21 7l-6 10",
  clock: "M12 2a10 10 0 1 1 0 20 10 10 0 0 1 0-20zM12 6.5V12l4 3",
  check: "M4 13l5 5L20 6",
  cross: "M5 5l14 14M19 5 5 19",
  spanner: "M14 6a5 5 0 0 1 7-3l-3 3 3 3 3-3M14 6l-11 11a2.5 2.5 0 0 0 4 4L18 10",
  lock: "M6 11V7.5a6 6 0 0 1 12 0V11M4 11h16v11H4zM12 15v3",
  shelf: "M3 20h18M6 20V9h12v11M12 2v5M9 5l3 3 3-3",
  hand: "M7.5 14V6a1.6 1.6 0 0 1 3.2 0v5V3.6a1.6 1.6 0 0 1 3.2 0V11 5a1.6 1.6 0 0 1 3.2 0v7V8.5a1.6 1.6 0 0 1 3.2 0V15a7 7 0 0 1-7 7c-3.5 0-5.5-1.8-7-4.3l-2.6-4.5a1.6 1.6 0 0 1 2.7-1.7z",
  bell: "M5 18h14l-2-3v-5a5 5 0 0 0-10 0v5zM10 20.5a2 2 0 0 0 4 0",
  flask: "M9 2h6M10 2v7L4 20h16L14 9V2M7 15h10",
};

/** A shape by its name; filled ones carry a mark in the colour of their ground. */
export function icon(name, extra = "") {
  const attributes = { class: `icon ${extra}`.trim(), viewBox: "0 0 24 24", "aria-hidden": "true", focusable: "false" };
  const filled = shapes[name];
  if (filled)
    return h(
      "svg",
      attributes,
      h("path", { d: filled[0], class: "icon-body" }),
      h("path", { d: filled[1], class: "icon-mark" }),
    );
  return h("svg", attributes, h("path", { d: lines[name] ?? "", class: "icon-line" }));
}
