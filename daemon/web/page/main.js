// Starts the page: connection, routing, what is pressed. Views are listed in views/index.js.
import * as api from "./api.js";
import { byId, h, patchChildren } from "./dom.js";
import { actions, redrawFor } from "./actions.js";
import { drawFrame } from "./frame.js";
import { parseHash } from "./router.js";
import { openStream } from "./stream.js";
import * as store from "./state.js";
import { onlyShows } from "./state.js";
import { forgetWhatWasDone, tellAlarm, tellTrust } from "./news.js";
import { askToSignIn } from "./dialogs.js";
import { atSite, trouble } from "./pieces.js";
import { underTest } from "./proofs.js";
import { views } from "./views/index.js";

const main = byId("main");
let place = parseHash(location.hash);
let view = null;
let pending = null;

function draw() {
  pending = null;
  drawFrame(place.view);
  if (!view || (view.drawn && !view.live)) return;
  paint();
}
function paint() {
  const wanted = h("div", view.render(place));
  patchChildren(main, wanted);
  view.drawn = true;
  view.painted?.(place);
}
/** Many events a second become at most ten drawings. */
function drawSoon() {
  pending ??= setTimeout(draw, 100);
}

function show() {
  const before = view;
  place = parseHash(location.hash);
  const found = onlyShows() && views[place.view]?.ofDaemon ? atTheSite(views[place.view]) : views[place.view];
  const next = found ?? {
    title: () => "Not found",
    render: () => [h("h1", "There is no such view"), h("p", h("a", { href: "#/rooms" }, "All rooms"))],
  };
  before?.left?.();
  if (before) before.drawn = false;
  view = next;
  main.replaceChildren();
  main.dataset.view = place.view;
  forgetWhatWasDone();
  byId("nav").classList.remove("open");
  byId("menu-button").setAttribute("aria-expanded", "false");
  paint();
  drawFrame(place.view);
  if (before) main.focus({ preventScroll: true });
  main.scrollTop = 0;
  next.entered?.(place);
}

/** In place of a view for which a daemon must be asked. */
const atTheSite = ({ title }) => ({
  title,
  render: () => [
    h("h1", title()),
    atSite("This page shows the records of many sites. Ask for this at the page of the site's own daemon."),
    h("p", h("a", { href: "#/rooms" }, "All rooms")),
  ],
});

redrawFor(() => {
  if (view) paint();
  drawFrame(place.view);
});

async function learnSite() {
  try {
    store.takeSite(await api.ask("/api/site"));
  } catch (problem) {
    if (problem.status === 401) await mustSignIn();
  }
  drawSoon();
}

/** What happened while nobody was connected is in the rooms alone: it is told like the rest. */
function takeRoom(room) {
  const before = store.knownRoom(room.room)?.room;
  store.takeRoom(room);
  for (const alarm of room.alarms) tellAlarm(alarm, before?.alarms.find((one) => one.alarm === alarm.alarm) ?? null);
  if (!before)
    roomsKnown ??= setTimeout(() => {
      roomsKnown = null;
      view.roomsKnown?.(place);
    }, 50);
  drawSoon();
}
let roomsKnown = null;

const handlers = {
  hello: (hello) => {
    store.takeHello(hello);
    learnSite();
    drawSoon();
  },
  room: takeRoom,
  level: (level) => {
    store.takeLevel(level);
    drawSoon();
  },
  reading: (reading) => {
    store.takeReading(reading);
    view?.reading?.(reading);
    drawSoon();
  },
  alarm: (alarm) => {
    tellAlarm(alarm, store.takeAlarm(alarm));
    drawSoon();
  },
  beat: (beat) => {
    store.takeBeat(beat);
    drawSoon();
  },
  lost: () => {
    store.takeLoss();
    draw();
  },
};

let asking = false;
async function mustSignIn() {
  if (asking) return;
  asking = true;
  main.replaceChildren(trouble("Sign in to see the rooms."));
  while (!(await askToSignIn("At this site, only people who are signed in may look."))) drawFrame(place.view);
  location.reload();
}

document.addEventListener("click", (event) => {
  const pressed = event.target.closest("[data-do]");
  if (!pressed || pressed.disabled) return;
  event.preventDefault();
  actions[pressed.dataset.do]?.(pressed);
});
/** Only the content scrolls, so that keys which scroll must reach it wherever the focus is not its own. */
const scrolls = {
  PageDown: 0.9,
  " ": 0.9,
  PageUp: -0.9,
  ArrowDown: 0.1,
  ArrowUp: -0.1,
  Home: -Infinity,
  End: Infinity,
};
document.addEventListener("keydown", (event) => {
  if (document.activeElement !== document.body || event.ctrlKey || event.metaKey || event.altKey) return;
  if (!(event.key in scrolls)) return;
  event.preventDefault();
  const way = Math.max(-1e6, Math.min(1e6, scrolls[event.key] * main.clientHeight));
  main.scrollBy(0, event.key === " " && event.shiftKey ? -way : way);
});
document.addEventListener("keydown", (event) => {
  if (event.key.toLowerCase() !== "c" || event.ctrlKey || event.metaKey || event.altKey) return;
  const button = event.target.closest('[aria-keyshortcuts="c"]:enabled'); // only while it has the focus
  if (!button) return;
  event.preventDefault();
  actions.act_commented(button);
});
document.addEventListener("submit", (event) => {
  const form = event.target.closest("[data-submit]");
  if (!form) return;
  event.preventDefault();
  actions[form.dataset.submit]?.(form);
});
document.addEventListener("change", (event) => {
  const changed = event.target.closest("[data-change]");
  if (changed) actions[changed.dataset.change]?.(changed);
});
document.addEventListener("visibilitychange", () => {
  if (!document.hidden) draw();
});
window.addEventListener("hashchange", () => {
  if (location.hash.startsWith("#/") || location.hash === "") show();
});

setInterval(() => {
  if (tellTrust()) draw();
}, 250);
setInterval(drawSoon, 1000);
setInterval(learnSite, 10000);
setInterval(() => {
  if (store.state.site?.outputs.some(underTest)) learnSite(); // somebody waits to be asked what was seen
}, 2000);

store.state.session = await api.session().catch(() => store.state.session); // it says what there is to show
show();
if (store.state.session.may_view === false) await mustSignIn();
else openStream(handlers);
