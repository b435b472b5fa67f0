// Outputs that warn, and their proof tests: driven to warn for a time, and then a person says whether they did.
import * as api from "./api.js";
import { actions, asKnownPerson, attempt } from "./actions.js";
import { apart, question } from "./dialogs.js";
import { h } from "./dom.js";
import { duration } from "./format.js";
import { say } from "./news.js";
import { mark, select, field, when } from "./pieces.js";
import { state, takeSite } from "./state.js";
import { hashOf } from "./router.js";
import { day, toInput } from "./times.js";
import { spoken } from "./words.js";

/** What a person would see or hear of an output, by its kind. */
const warning = {
  "alarm-relay": "its relay drops, and what hangs on it warns",
  sounder: "it sounds",
  beacon: "it flashes",
};
const warningOf = (output) => warning[output.kind] ?? "it warns";
const yearsAgo = (n) => toInput(Date.now() - n * 365 * 86400e3).slice(0, 16); // proofs are months apart
const times = [5, 10, 20, 60].map((s) => [String(s), duration(s)]);

export const provable = (output) => output.proof !== null && output.proof !== undefined;
export const underTest = (output) => provable(output) && output.proof.test_by !== "";
export const awaitsAnswer = (output) => provable(output) && output.proof.awaiting_answer;

/** Whether the output holds what it was told, and whether anybody has seen it warn. */
export function outputMark(output) {
  const proof = output.proof;
  return [
    output.trouble
      ? mark("high", "triangle", `LOST: ${output.trouble}`)
      : h("span.quiet", output.confirmed ? "confirmed" : output.written ? "written, not confirmed" : "not written yet"),
    proof && !proof.last ? [" ", mark("doubt", "bell", "NEVER PROVED")] : null,
    proof?.last === "failed" ? [" ", mark("high", "triangle", "FAILED ITS PROOF")] : null,
    proof?.overdue && proof.last ? [" ", mark("doubt", "clock", "proof overdue")] : null,
  ];
}

/** The last result with who said so, and until when the next is due. */
export function proofWords(output) {
  if (!provable(output)) return h("span.quiet", "warns nobody by itself");
  const { last, last_at, last_by, worked_at, due, overdue } = output.proof;
  return [
    h(
      "div",
      last
        ? [h("b", last === "worked" ? "it worked" : "IT FAILED"), " ", when(last_at)]
        : h("span.quiet", "nobody has said yet that it warns"),
      last_by ? `, by the word of ${last_by}` : "",
    ),
    last === "failed" ? h("div", worked_at ? ["it last worked ", when(worked_at)] : "it was never seen to work") : null,
    due ? h("div.quiet", overdue ? `due since ${day(due)}` : `due ${day(due)}`) : null,
    h(
      "div",
      h(
        "a",
        { href: hashOf("journal", [], { alarm: `output/${output.name}`, from: yearsAgo(2) }) },
        `tests of ${output.name}`,
      ),
    ),
  ];
}

/** What may be done about its proof now: begin one, or say what was seen. */
export function proofActs(output, current) {
  if (!provable(output)) return null;
  const { driving, awaiting_answer, test_by } = output.proof;
  const role = state.session.user?.role ?? null;
  if (driving) return h("p", mark("doubt", "bell", `PROOF TEST by ${test_by}: ${warningOf(output)}. Go and look.`));
  if (role === "viewer" || role === "operator") {
    if (awaiting_answer) return h("p", mark("doubt", "bell", `waits for what ${test_by} saw; an engineer answers`));
    return h("p.quiet.small", "An engineer proves it.");
  }
  const button = (what, words, label, main = false) =>
    h(
      "button",
      {
        type: "button",
        class: main ? "main-act" : null,
        "data-key": what,
        "data-do": "proof",
        "data-step": what,
        "data-output": output.name,
        disabled: !current,
        "aria-label": `${label} ${output.name}`,
      },
      words,
    );
  if (!awaiting_answer) return h("div.acts", button("begin", "Prove it", "Prove it:"));
  return [
    h("p", mark("doubt", "bell", `DID IT WARN? ${test_by} began a test; ${warningOf(output)}.`)),
    h(
      "div.acts",
      button("worked", "Yes, it did", "Yes, it did:", true),
      button("failed", "No, it did not", "No, it did not:"),
    ),
  ];
}

const asked = {
  begin: (output) => ({
    title: `Prove ${output.name}`,
    lead: h(
      "p",
      `${warningOf(output)[0].toUpperCase()}${warningOf(output).slice(1)} for the time below, though nothing is wrong. `,
      "Tell those who will see or hear it, and be where you can. A real alarm ends the test. ",
      "A test without an answer within ten minutes proves nothing.",
    ),
    fields: [field("For", select("proof-time", times, "10"))],
    button: "Begin the test",
    body: (given) => ({ step: "begin", duration_s: Number(given["proof-time"]) }),
  }),
  worked: (output) => answered(output, "worked", "It worked", "You have seen or heard it warn yourself."),
  failed: (output) =>
    answered(output, "failed", "It failed", "It then counts as failed until a test of it has worked."),
};
function answered(output, step, words, lead) {
  const comment = h("input", { id: "proof-comment", name: "comment", maxlength: 500, autocomplete: "off" });
  return {
    title: `${output.name}: ${words.toLowerCase()}`,
    lead: h("p", lead),
    fields: [field("What was seen (may stay empty)", comment)],
    button: words,
    body: (given) => ({ step, comment: given.comment ?? "" }),
  };
}

actions.proof = (button) =>
  attempt(async () => {
    const output = state.site?.outputs.find((one) => one.name === button.dataset.output);
    if (!output) return;
    const { body, ...asks } = asked[button.dataset.step](output);
    const answer = await asKnownPerson(() =>
      question({ ...asks, submit: (given) => apart(() => api.prove(output.name, body(given))) }),
    );
    if (!answer) return;
    takeSite(await api.ask("/api/site"));
    if (answer.recorded === false) say(`${answer.proof.text} It could not be recorded: look at Health.`, "trouble");
    else say(answer.proof.text, "done");
  });
