// Small parts that several views share.
import { h } from "./dom.js";
import { icon } from "./icons.js";
import * as format from "./format.js";
import { bothTimes } from "./times.js";
import { acts, priorityOf, spoken, stateOf, statuses } from "./words.js";
import { actsFor, mayBeCommented, whyNotShelved } from "./urgency.js";
import { daemonNow, onlyShows, state } from "./state.js";

export const when = (at) => h("time", { datetime: new Date(at).toISOString() }, bothTimes(at));
/** With its date also today: for what is kept on paper. */
export const dated = (at) => h("time", { datetime: new Date(at).toISOString() }, bothTimes(at, new Date(0)));
export const since = (at) => [
  when(at),
  " ",
  h("span.quiet", `(${format.duration((daemonNow() - Date.parse(at)) / 1000)} ago)`),
];

/** A mark with its shape and its word. `tone`: critical, high, medium, low, doubt, plain. */
export const mark = (tone, shape, words, extra = "") =>
  h("span", { class: `mark tone-${tone} ${extra}`.trim() }, shape ? icon(shape) : null, h("span", words));

export function alarmMark(alarm) {
  const priority = priorityOf(alarm);
  const words = stateOf(alarm);
  if (alarm.state === "normal")
    return mark(
      "plain",
      alarm.in_force === false ? "" : "check",
      alarm.in_force === false ? "not in force now" : "normal",
    );
  if (words.hidden) return mark("hidden", "shelf", words.words);
  const unseen = words.rank <= 2;
  return mark(
    alarm.priority in toneOf ? alarm.priority : "critical",
    priority.shape,
    `${priority.words}: ${words.words}`,
    unseen ? "unseen" : "seen",
  );
}
const toneOf = { critical: 1, high: 1, medium: 1, low: 1 };

export const statusMark = (status) => {
  const known = statuses[status] ?? { words: spoken(status), shape: "cross" };
  return mark(status === "ok" ? "plain" : "doubt", known.shape, known.words);
};

/** A number that is struck through, and says since when, once it is not of now. */
export function live(text, current) {
  return current ? h("span.number", text) : h("s.number.old", text);
}
export const oldNote = (atMs) =>
  h("p.old-note", icon("clock"), h("span", "not current since ", atMs ? when(atMs) : "the start"));

/** Where a person finds what the page of many sites has not; null on a daemon's own. */
export const atSite = (words) => (onlyShows() ? empty(words) : null);

/** The acts that the person at the screen may do with an alarm. */
export function actButtons(alarm, current) {
  if (onlyShows()) return null;
  const role = state.session.user?.role ?? null;
  const offered = actsFor(alarm, role);
  const buttons = offered.flatMap((act) => [
    actButton(alarm, act, {
      class: `act ${act === "acknowledge" ? "main-act" : ""}`.trim(),
      "data-do": "act",
      title: mayBeCommented(act) ? `${acts[act].means} Press C to add a comment.` : acts[act].means,
      "aria-keyshortcuts": mayBeCommented(act) ? "c" : null,
      disabled: !current,
    }),
    mayBeCommented(act)
      ? actButton(alarm, act, { class: "act", "data-do": "act_commented", disabled: !current }, "with a comment")
      : null,
  ]);
  const why = role === "viewer" ? "" : whyNotShelved(alarm);
  return [buttons, why ? h("span.quiet.small.why-not", { "data-key": "why-not" }, why) : null];
}

function actButton(alarm, act, attributes, words = acts[act].words) {
  const of = `${spoken(alarm.alarm)} of ${alarm.room}`;
  return h(
    "button",
    {
      type: "button",
      "data-key": words === acts[act].words ? act : `${act}-commented`,
      "data-act": act,
      "data-room": alarm.room,
      "data-alarm": alarm.alarm,
      "aria-label": words === acts[act].words ? `${words} ${of}` : `${words}: ${acts[act].doing} ${of}`,
      ...attributes,
    },
    words,
  );
}

export const roomLink = (name) => h("a", { href: `#/room/${encodeURIComponent(name)}` }, name);
export const section = (title, ...content) => h("section.panel", h("h2", title), ...content);
export const empty = (words) => h("p.quiet", words);
export const trouble = (words) => h("p.trouble", { role: "alert" }, icon("triangle"), h("span", words));

/** A table that a narrow screen shows as a list: each cell carries the name of its column. */
export function table(caption, columns, rows) {
  return h(
    "table.rows",
    h("caption", { class: "unseen-text" }, caption),
    h(
      "thead",
      h(
        "tr",
        columns.map((name) => h("th", { scope: "col" }, name)),
      ),
    ),
    h(
      "tbody",
      rows.map((row) =>
        h(
          "tr",
          { "data-key": row.key, class: row.class },
          row.cells.map((cell, i) => h("td", { "data-column": columns[i] }, h("div", cell))),
        ),
      ),
    ),
  );
}

/** Keyed, so that what a person typed stays with its own label when the fields of a form change. */
export const field = (label, control, hint = "") =>
  h(
    "div.field",
    { "data-key": control.id },
    h("label", { for: control.id }, label),
    control,
    hint ? h("p.hint", hint) : null,
  );
export const select = (id, options, chosen, attributes = {}) =>
  h(
    "select",
    { id, name: id, ...attributes },
    options.map(([value, words]) => h("option", { value, selected: value === chosen }, words)),
  );
