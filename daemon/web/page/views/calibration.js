// Every cell with what is due, and the walk through one calibration: begin, let it settle, take, judge, record.
import * as api from "../api.js";
import { actions, asKnownPerson, attempt, drawAgain } from "../actions.js";
import { askForReason } from "../dialogs.js";
import { dueWords, pointOf } from "../calibration_data.js";
import { fieldsOf, h } from "../dom.js";
import { empty, mark, statusMark, table, trouble } from "../pieces.js";
import { say } from "../news.js";
import { stabilityPlot } from "../stability_plot.js";
import { day } from "../times.js";
import { gases } from "../words.js";
import { beginForm, judgement, settling } from "./calibration_steps.js";
import { life } from "./calibration_life.js";

export const title = () => "Calibration";
export const ofDaemon = true;
let cells = null;
let problem = "";
let walk = null; // {room, sensor, look, chosen, taken, judged, recorded, life}
const firstChoice = { how: "live", gas: "fresh-air" };
let timer = null;
const plot = stabilityPlot();

export async function entered({ parts }) {
  problem = "";
  left();
  if (parts.length === 2) {
    walk = {
      room: parts[0],
      sensor: parts[1],
      look: null,
      chosen: firstChoice,
      taken: [],
      judged: null,
      recorded: false,
    };
    await look(true);
    await fetchLife();
  } else {
    await fetchCells();
  }
  drawAgain();
}
export function left() {
  clearInterval(timer);
  timer = null;
  walk = null;
  plot.stop();
  plot.clear();
}
export const painted = () => {
  if (walk?.look && !walk.judged) plot.draw();
};

async function fetchCells() {
  try {
    cells = (await api.ask("/api/calibrations")).cells;
  } catch (reason) {
    problem = reason.message;
  }
}

/** What is on record of the cell at hand. */
async function fetchLife() {
  const mine = walk;
  try {
    const known = await api.ask(api.address("/api/calibrations", { room: walk.room, sensor: walk.sensor }));
    if (walk === mine) walk.life = known;
  } catch (reason) {
    problem = reason.message;
  }
}

const step = (name, more = {}) => api.calibrate({ step: name, room: walk.room, sensor: walk.sensor, ...more });

/** How the signal stands; at first also whether a calibration is under way at all. */
async function look(first = false) {
  const mine = walk;
  try {
    const seen = await step("look");
    if (walk !== mine) return;
    took(seen);
  } catch (reason) {
    if (walk !== mine) return;
    clearInterval(timer);
    timer = null;
    if (!first) {
      walk.look = null;
      problem = reason.message;
    }
  }
}
function took(seen) {
  walk.look = seen;
  if (seen.at) plot.add(Date.parse(seen.at), seen.signal_mv);
  timer ??= setInterval(async () => {
    if (walk && !walk.judged) await look();
    drawAgain();
  }, 1000);
}

const act = (deed) =>
  attempt(() =>
    asKnownPerson(async () => {
      problem = "";
      await deed();
    }),
  );

actions.calibration_begin = (form) =>
  act(async () => {
    walk.chosen = firstChoice;
    took(await step("begin", { act: fieldsOf(form).act }));
  });
actions.calibration_another = () =>
  act(async () => {
    plot.clear();
    walk.judged = null;
    took(await step("another"));
  });
actions.calibration_take = (form) =>
  act(async () => {
    const given = fieldsOf(form);
    const { step: point, problem: missing } = pointOf(given);
    if (missing) throw new Error(missing);
    const byHand = given.how === "by-hand";
    took(await step(byHand ? "enter" : "take", point));
    walk.taken.push(`${gases[given.gas]}${byHand ? ", by hand" : ""}`);
    say(byHand ? "The point was entered." : "The point was taken.", "done");
  });
/** What the form asks for depends on the gas, and on where the signal comes from. */
actions.calibration_choose = (changed) => {
  const { how, gas } = fieldsOf(changed.form);
  walk.chosen = { how, gas };
  drawAgain();
};
actions.calibration_judge = () =>
  act(async () => {
    walk.judged = await step("finish", { dry_run: true });
    say("");
  });
actions.calibration_back = () => {
  walk.judged = null;
  drawAgain();
};
actions.calibration_record = (form) =>
  act(async () => {
    const { reason = "", replaces } = fieldsOf(form);
    const { record } = await step("finish", { reason, ...(replaces ? { number: Number(replaces) } : {}) });
    walk.judged = { ...walk.judged, record };
    walk.recorded = true;
    clearInterval(timer);
    timer = null;
    walk.look = null;
    say("The record is on the disk and in force.", "done");
    await fetchLife();
  });
actions.calibration_withdraw = (button) =>
  act(async () => {
    const number = Number(button.dataset.number);
    const reason = await askForReason(
      `Withdraw record ${number}`,
      "It stays on record, but counts no longer. What rested on it is formed anew with `oxherd replay`.",
      "Withdraw",
    );
    if (!reason) return;
    await api.calibrate({ step: "withdraw", number, reason });
    say(`Record ${number} was withdrawn.`, "done");
    await fetchLife();
  });
actions.calibration_cancel = () =>
  act(async () => {
    await step("cancel");
    clearInterval(timer);
    timer = null;
    walk.look = walk.judged = null;
    walk.taken = [];
    plot.stop();
    plot.clear();
    say("Cancelled: nothing was recorded, the former calibration stays in force.", "done");
  });

export function render() {
  if (!walk)
    return [
      h("h1", "Calibration"),
      problem ? trouble(problem) : !cells ? empty("Fetching…") : cells.length ? list() : empty("No cell is set up."),
    ];
  return [
    h("p.back", h("a", { href: "#/calibration" }, "All cells")),
    h("h1", `${walk.room}/${walk.sensor}`),
    problem ? trouble(problem) : null,
    !walk.look && !walk.recorded ? beginForm() : walk.judged ? judgement(walk) : settling(walk),
    walk.life ? life(walk.life) : null,
  ];
}

function list() {
  return [
    h(
      "p",
      "While cylinder gas is on a cell its readings are a function check, so its room may be not monitored: have a certified monitor with you.",
    ),
    table(
      "Cells",
      ["cell", "state", "next", "drift", "in force"],
      cells.map((cell) => ({
        key: `${cell.room}/${cell.sensor}`,
        class: dueWords(cell).length ? "doubtful" : "",
        cells: [
          [
            h(
              "a",
              { href: `#/calibration/${encodeURIComponent(cell.room)}/${encodeURIComponent(cell.sensor)}` },
              `${cell.room}/${cell.sensor}`,
            ),
            h("div.quiet", cell.serial || "no serial number"),
          ],
          [
            cell.calibrated ? statusMark(cell.status) : mark("doubt", "cross", "NOT CALIBRATED"),
            dueWords(cell).map((words) => h("div", words)),
          ],
          [
            due("check", cell.next_check, cell.check_overdue),
            due("calibration", cell.next_calibration, cell.calibration_overdue),
            due("replace", cell.replace_by, false),
          ],
          driftWords(cell.drift),
          cell.in_force
            ? [
                cell.in_force.number ? `record ${cell.in_force.number}` : "settings file",
                h("div.quiet", cell.in_force.performed ? day(cell.in_force.performed) : "time not given"),
              ]
            : "none",
        ],
      })),
    ),
  ];
}
const due = (what, at, overdue) =>
  h("div", `${what} ${at ? day(at) : "–"} `, overdue ? mark("doubt", "clock", "OVERDUE") : null);
function driftWords(drift) {
  if (!drift || drift.unknown) return h("span.quiet", drift?.unknown || "not known");
  const percent = (x) => (x * 100).toFixed(2);
  return `${percent(drift.per_month)} % a month (${percent(drift.low)} to ${percent(drift.high)})${drift.significant ? "" : ", not significant"}`;
}
