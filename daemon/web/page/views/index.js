// Every view by the first word of its address. A view is {title, live, render, entered, left, painted, reading,
// roomsKnown, ofDaemon}; only title and render must be there. `live`: drawn anew whenever something came in. `roomsKnown`:
// called when rooms were told that were not known before, as when the page begins with that view. `ofDaemon`: the historian
// of many sites has no answer to it.
import * as alarms from "./alarms.js";
import * as calibration from "./calibration.js";
import * as certificate from "./certificate.js";
import * as explain from "./explain.js";
import * as health from "./health.js";
import * as history from "./history.js";
import * as journal from "./journal.js";
import * as report from "./report.js";
import * as room from "./room.js";
import * as rooms from "./rooms.js";
import * as worksheet from "./worksheet.js";

const all = { rooms, room, alarms, history, journal, explain, calibration, certificate, worksheet, health, report };
export const views = Object.fromEntries(Object.entries(all).map(([name, view]) => [name, { ...view, drawn: false }]));

/** What the navigation offers, in this order. */
export const navigation = [
  "rooms",
  "alarms",
  "history",
  "journal",
  "explain",
  "calibration",
  "worksheet",
  "health",
  "report",
];
