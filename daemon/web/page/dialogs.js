// Questions to the person at the screen: who they are, why, for how long. One dialog at a time.
import { byId, fieldsOf, h } from "./dom.js";
import * as api from "./api.js";
import { field, select } from "./pieces.js";
import { acts, spoken } from "./words.js";
import { atMost, hidingTimes, testTimes } from "./durations.js";
import { duration } from "./format.js";
import { hides } from "./urgency.js";
import { state } from "./state.js";

/** Shows a form; `submit` gets its fields and may throw. Resolves with what it returns, or null when cancelled. */
export function question({ title, lead = [], fields, button, submit }) {
  const dialog = byId("dialog");
  const error = h("p.trouble", { role: "alert", hidden: true });
  const form = h(
    "form",
    { novalidate: true },
    h("h2", { id: "dialog-title" }, title),
    lead,
    fields,
    error,
    h("p.hint", state.caution), // the page's own is behind the dialog
    h(
      "div.dialog-buttons",
      h("button.main-act", { type: "submit" }, button),
      h("button", { type: "button", value: "cancel" }, "Cancel"),
    ),
  );
  dialog.replaceChildren(form);
  return new Promise((resolve) => {
    const end = (value) => {
      dialog.oncancel = null;
      dialog.close();
      dialog.replaceChildren();
      resolve(value);
    };
    const say = (words) => {
      error.textContent = words;
      error.hidden = false;
    };
    dialog.oncancel = (event) => {
      event.preventDefault();
      end(null);
    };
    form.querySelector("[value=cancel]").addEventListener("click", () => end(null));
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const wrong = [...form.elements].find((element) => element.willValidate && !element.checkValidity());
      if (wrong) {
        say(`${wrong.labels?.[0]?.textContent ?? wrong.name}: ${wrong.dataset.missing ?? wrong.validationMessage}`);
        wrong.focus();
        return;
      }
      try {
        end(await submit(fieldsOf(form)));
      } catch (problem) {
        say(problem.message);
      }
    });
    dialog.showModal();
  });
}

/** Resolves true once somebody is signed in. */
export async function askToSignIn(why = "") {
  if (state.session.users === false)
    return question({
      title: "No user has been made yet",
      button: "Look again",
      fields: [],
      lead: [h("p", "On the machine that runs Oxherd:"), h("pre", "sudo oxherd user NAME --role engineer")],
      submit: async () => {
        state.session = await api.session();
        return state.session.users;
      },
    });
  const name = h("input", {
    id: "sign-in-name",
    name: "name",
    required: true,
    autocomplete: "username",
    autocapitalize: "none",
    "data-missing": "give your name",
  });
  const password = h("input", {
    id: "sign-in-password",
    name: "password",
    type: "password",
    required: true,
    autocomplete: "current-password",
    "data-missing": "give your password",
  });
  const signedIn = await question({
    title: "Sign in",
    button: "Sign in",
    lead: why ? h("p", why) : [],
    fields: [field("Name", name), field("Password", password)],
    submit: async (given) => {
      state.session = await api.signIn(given.name, given.password);
      return true;
    },
  });
  return signedIn === true;
}

/** Does it; when the daemon asks who it is, asks the person and does it once more. Null when they would not say. */
export async function asPerson(deed) {
  try {
    return await deed();
  } catch (problem) {
    if (problem.status !== 401) throw problem;
    state.session = { ...state.session, user: null };
    return (await askToSignIn("This needs your name: it goes into the journal.")) ? deed() : null;
  }
}

/** Asks what an act needs (a reason and a time where it hides an alarm; a comment where one is wanted), and does it. */
export async function actWithQuestions(alarm, act, commented = false) {
  const does = (body) => api.actOn(alarm.room, alarm.alarm, act, body);
  const timed = hides(act) || act === "test";
  if (!timed && !commented) return asPerson(() => does({}));
  return question({
    title: `${acts[act].words}: ${spoken(alarm.alarm)}, ${alarm.room}`,
    lead: h("p", acts[act].means),
    fields: [wordsField(hides(act)), timed ? timeField(alarm, act) : null],
    button: acts[act].words,
    submit: (given) => {
      const body = { comment: given.comment ?? "" };
      if (timed) body.duration_s = Number(given["act-duration"]);
      return apart(() => does(body));
    },
  });
}

/** A reason may be long; a comment is a line, so that Enter ends it. */
function wordsField(needed) {
  const common = { id: "act-comment", name: "comment", maxlength: 500, autocomplete: "off" };
  if (!needed) return field("Comment (may stay empty)", h("input", { ...common, type: "text" }));
  const why = h("textarea", {
    ...common,
    rows: 3,
    required: true,
    "data-missing": "say why; it goes into the journal",
  });
  return field("Reason", why);
}

function timeField(alarm, act) {
  const { options, chosen } = hides(act) ? hidingTimes(atMost(alarm, act)) : testTimes;
  const hint = hides(act)
    ? `The settings permit ${duration(atMost(alarm, act))} at most for this alarm.`
    : "The alarm must have time to come: longer than its delay.";
  return field("For", select("act-duration", options, chosen), hint);
}

/** The person's reason, or null. */
export const askForReason = (title, lead, button) =>
  question({
    title,
    lead: h("p", lead),
    button,
    fields: [
      field(
        "Reason",
        h("textarea", {
          id: "reason-asked",
          name: "reason",
          rows: 3,
          required: true,
          "data-missing": "say why; it goes on record",
        }),
      ),
    ],
    submit: async (given) => given.reason,
  });

/** In a dialog there is no room for another one: the person signs in first and then begins again. */
export async function apart(deed) {
  try {
    return await deed();
  } catch (problem) {
    if (problem.status === 401)
      throw new Error("Nobody is signed in here any more. Cancel, sign in above, and do it again.");
    throw problem;
  }
}
