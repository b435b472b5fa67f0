// What buttons and forms do, by the name in their data-do, data-submit or data-change.
import * as api from "./api.js";
import { byId, h } from "./dom.js";
import { actWithQuestions, apart, askToSignIn, question } from "./dialogs.js";
import { field, select } from "./pieces.js";
import { knownRoom, state, takeAlarm, takeRoom } from "./state.js";
import { say } from "./news.js";
import { hides } from "./urgency.js";
import { acts, regimes, spoken } from "./words.js";

export const actions = {};
let redraw = () => {};
export const redrawFor = (how) => {
  redraw = how;
};
export const drawAgain = () => redraw();

/** Says what went wrong where the person looks and listens. */
async function attempt(deed) {
  try {
    return await deed();
  } catch (problem) {
    say(problem.message, "trouble");
    return null;
  } finally {
    redraw();
  }
}

actions.skip = () => {
  byId("main").focus();
};
actions.menu = (button) => {
  const open = byId("nav").classList.toggle("open");
  button.setAttribute("aria-expanded", String(open));
};
actions.dismiss = () => {
  say("");
  state.trust = { ...state.trust, restarted: false };
  redraw();
};

actions.act = (button) => act(button.dataset);
actions.act_commented = (button) => act(button.dataset, true);

async function act({ room, alarm: name, act }, commented = false) {
  await attempt(async () => {
    const alarm = knownRoom(room)?.room.alarms.find((one) => one.alarm === name);
    if (!alarm) return;
    const asksFirst = commented || hides(act) || act === "test"; // in the middle of a form is no time for a password
    const asked = () => actWithQuestions(alarm, act, commented);
    const answer = await (asksFirst ? asKnownPerson(asked) : asked());
    if (!answer) return;
    takeAlarm(answer.alarm);
    const done = `${acts[act].words}: ${spoken(name)}, ${room}. Done`;
    if (answer.recorded === false) say(`${done}, but it could not be recorded: look at Health.`, "trouble");
    else say(`${done} and recorded.`, "done");
  });
  focusAlarm(room, name);
}

/** An act may take away the very button that was pressed: the keyboard then goes on at the same alarm. */
function focusAlarm(room, alarm) {
  if (document.activeElement !== document.body) return;
  const rest = [...document.querySelectorAll("[data-act]:enabled")];
  (rest.find((one) => one.dataset.room === room && one.dataset.alarm === alarm) ?? byId("main")).focus();
}

actions.regime = (button) =>
  attempt(async () => {
    const { room } = knownRoom(button.dataset.room);
    const comment = h("textarea", {
      id: "regime-comment",
      name: "comment",
      rows: 3,
      required: true,
      "data-missing": "say why; it goes into the journal",
    });
    const answer = await asKnownPerson(() =>
      question({
        title: `How ${room.room} is used`,
        button: "Record",
        lead: h("p", "This decides which alarms are in force. It never gives leave to enter."),
        fields: [
          field("From now on", select("regime", Object.entries(regimes), room.regime)),
          field("Reason", comment),
          h(
            "div.field.tick",
            h("input", { type: "checkbox", id: "seen-empty", name: "seen_empty", value: "yes" }),
            h("label", { for: "seen-empty" }, "I have seen that the room is empty (needed for sealing)"),
          ),
        ],
        submit: (given) =>
          apart(() =>
            api.setRegime(room.room, {
              regime: given.regime,
              comment: given.comment,
              seen_empty: given.seen_empty === "yes",
            }),
          ),
      }),
    );
    if (!answer) return;
    if (answer.room?.sensors) takeRoom(answer.room);
    say(`The regime of ${room.room} was recorded.`, "done");
  });

async function asKnownPerson(deed) {
  if (!state.session.user && !(await askToSignIn("This needs your name: it goes into the journal."))) return null;
  return deed();
}
export { asKnownPerson, attempt };

actions.sign_in = () =>
  attempt(async () => {
    if (await askToSignIn()) say(`Signed in as ${state.session.user?.name ?? ""}.`, "done");
  });
actions.sign_out = () =>
  attempt(async () => {
    state.session = await api.signOut();
    say("Signed out.", "done");
  });

const themes = { auto: "light", light: "dark", dark: "auto" };
actions.theme = () => {
  const root = document.documentElement;
  const next = themes[root.dataset.theme ?? "auto"];
  if (next === "auto") delete root.dataset.theme;
  else root.dataset.theme = next;
  localStorage.setItem("theme", next);
  window.dispatchEvent(new Event("themechange"));
  redraw();
};
actions.still = () => {
  const root = document.documentElement;
  root.toggleAttribute("data-still");
  localStorage.setItem("still", root.hasAttribute("data-still") ? "yes" : "");
  redraw();
};
actions.print = () => window.print();

const kept = localStorage.getItem("theme");
if (kept === "light" || kept === "dark") document.documentElement.dataset.theme = kept;
document.documentElement.toggleAttribute("data-still", localStorage.getItem("still") === "yes");
