// What surrounds every view: site, navigation with its counts, banner, caution, title.
import { byId, h, patchChildren } from "./dom.js";
import { icon } from "./icons.js";
import { notice } from "./news.js";
import { allAlarms, daemonNow, knownRooms, lastBeatAt, onlyShows, state, whyOld } from "./state.js";
import { bothTimes } from "./times.js";
import { askingCount, asksForPerson, worstAlarm, worstFirst } from "./urgency.js";
import { count, priorityOf, spoken, stateOf } from "./words.js";
import { awaitsAnswer } from "./proofs.js";
import { navigation, views } from "./views/index.js";
import { duration } from "./format.js";

const into = (id, ...content) => patchChildren(byId(id), h("div", ...content));

export function drawFrame(current) {
  const rooms = knownRooms();
  const asking = askingCount(rooms.map((one) => one.room));
  const why = whyOld();
  const site = state.hello?.site ?? state.site?.site ?? "Oxherd";
  document.documentElement.toggleAttribute("data-old", why !== null);
  document.title = titleOf(why, asking, views[current]?.title?.() ?? "Oxherd", site);
  into("site-name", site);
  into("clock", why ? "" : bothTimes(daemonNow()));
  into(
    "nav",
    h(
      "ul",
      navigation.filter((name) => !(onlyShows() && views[name].ofDaemon)).map((name) => navItem(name, current, asking)),
    ),
  );
  into("tools", tools());
  into(
    "banner",
    askingBanner(
      current,
      rooms.map((one) => one.room),
      asking,
      why,
    ),
    banners(why, rooms),
  );
  if (state.caution) into("caution", h("p", icon("triangle"), " ", h("span", state.caution))); // until then that of index.html
}

function titleOf(why, asking, view, site) {
  if (why && lastBeatAt()) return `NOT CURRENT \u2013 ${view} \u2013 ${site}`;
  return `${asking ? `(${asking}) ` : ""}${view} \u2013 ${site}`;
}

function navItem(name, current, asking) {
  const badge =
    name === "alarms" && asking
      ? h("span.badge", { "aria-label": `${asking} ask for a person` }, String(asking))
      : null;
  return h(
    "li",
    h("a", { href: `#/${name}`, "aria-current": name === current ? "page" : null }, views[name].title(), badge),
  );
}

function tools() {
  const user = state.session.user;
  const theme = document.documentElement.dataset.theme ?? "auto";
  const still = document.documentElement.hasAttribute("data-still");
  return [
    h("button", { type: "button", "data-do": "theme" }, `Colours: ${theme === "auto" ? "as the system" : theme}`),
    h("button", { type: "button", "data-do": "still", "aria-pressed": String(still) }, "No flashing"),
    user
      ? h("button", { type: "button", "data-do": "sign_out" }, `Sign out ${user.name} (${user.role})`)
      : h("button", { type: "button", "data-do": "sign_in" }, "Sign in"),
  ];
}

/** Whoever looks at something else learns of an alarm all the same. */
function askingBanner(current, rooms, asking, why) {
  const [room] = worstFirst(rooms);
  if (current === "rooms" || current === "alarms" || !room || !asksForPerson(room)) return null;
  const worst = worstAlarm(room);
  const words = worst ? `${priorityOf(worst).words}: ${spoken(worst.alarm)}, ${stateOf(worst).words}` : "NOT MONITORED";
  return h(
    "div",
    { class: `banner banner-alarm tone-${worst?.priority ?? "none"}`, "data-key": "asking" },
    icon(worst ? priorityOf(worst).shape : "unseen"),
    h(
      "p",
      h("strong", `${room.room} ${words}`),
      why ? " (as it was last known)" : "",
      asking > 1 ? `, and ${asking - 1} more. ` : ". ",
      h("a", { href: "#/alarms" }, "To the alarms"),
    ),
  );
}

function banners(why, rooms) {
  const out = [];
  if (why)
    out.push(
      h(
        "div.banner.banner-old",
        { "data-key": "old" },
        icon("broken"),
        h(
          "p",
          h("strong", lastBeatAt() ? "NOT CURRENT" : "NOT CONNECTED"),
          lastBeatAt() ? ` since ${bothTimes(lastBeatAt())}: ${why}. ` : `: ${why}. `,
          "Treat the air of every room as unknown. This page keeps trying.",
        ),
      ),
    );
  const behind = why ? [] : rooms.filter((one) => !one.current);
  if (behind.length)
    out.push(
      h(
        "div.banner.banner-old",
        { "data-key": "behind" },
        icon("clock"),
        h(
          "p",
          h("strong", "NOT CURRENT: "),
          `${behind.map((one) => one.room.room).join(", ")}. Oxherd reports, but not of ${behind.length === 1 ? "this room" : "these rooms"}.`,
        ),
      ),
    );
  if (!why && state.trust.restarted)
    out.push(
      h(
        "div.banner.banner-note",
        { "data-key": "restarted" },
        icon("circle"),
        h(
          "p",
          `Oxherd was started again${state.site?.started ? ` at ${bothTimes(state.site.started)}` : ""}.${onlyShows() ? "" : " Alarms and their states were kept."}`,
        ),
        h("button", { type: "button", "data-do": "dismiss" }, "Close"),
      ),
    );
  const hidden = allAlarms().filter((alarm) => alarm.state === "shelved" || alarm.state === "out_of_service").length;
  if (hidden)
    out.push(
      h(
        "div.banner.banner-note",
        { "data-key": "hidden" },
        icon("shelf"),
        h(
          "p",
          h("a", { href: "#/alarms" }, `${count(hidden, "alarm")} shelved or out of service: you will not be warned.`),
        ),
      ),
    );
  for (const output of (state.site?.outputs ?? []).filter(awaitsAnswer))
    out.push(
      h(
        "div.banner.banner-note",
        { "data-key": `proof-${output.name}` },
        icon("bell"),
        h("p", `Proof test of ${output.name}: did it warn? `, h("a", { href: "#/health" }, "Say what was seen")),
      ),
    );
  if (Math.abs(state.clockOffset_ms) > 5000 && !why)
    out.push(
      h(
        "div.banner.banner-note",
        { "data-key": "clock" },
        icon("clock"),
        h(
          "p",
          `This screen's clock is ${duration(Math.abs(state.clockOffset_ms) / 1000)} ${state.clockOffset_ms > 0 ? "behind" : "ahead of"} that of Oxherd.`,
        ),
      ),
    );
  if (notice)
    out.push(
      h(
        "div",
        { class: `banner banner-${notice.kind === "trouble" ? "trouble" : "note"}`, "data-key": "notice" },
        icon(notice.kind === "trouble" ? "triangle" : "check"),
        h("p", notice.words),
        h("button", { type: "button", "data-do": "dismiss" }, "Close"),
      ),
    );
  return out;
}
