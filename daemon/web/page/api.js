// Talks to the daemon. Every trouble becomes an Error whose message is for the person.

let csrf = null;

export class Refusal extends Error {
  constructor(status, message) {
    super(message);
    this.status = status;
  }
}

/** Asks for JSON; `body` makes it a POST unless `method` says otherwise. */
export async function ask(path, { method, body } = {}) {
  const verb = method ?? (body === undefined ? "GET" : "POST");
  const headers = { Accept: "application/json" };
  if (body !== undefined) headers["Content-Type"] = "application/json";
  if (verb !== "GET" && csrf) headers["Oxherd-Csrf"] = csrf;
  let answer;
  try {
    answer = await fetch(path, { method: verb, headers, body: body === undefined ? undefined : JSON.stringify(body) });
  } catch {
    throw new Refusal(
      0,
      "Oxherd does not answer. Nothing was done. Look whether the daemon runs and the network is up.",
    );
  }
  const content = await answer.json().catch(() => null);
  if (!answer.ok) throw new Refusal(answer.status, words(answer, content));
  return content ?? {};
}

function words(answer, content) {
  const said = content?.detail ?? content?.title ?? `Oxherd answered ${answer.status} without a reason.`;
  const wait = answer.headers.get("Retry-After");
  return answer.status === 429 && wait ? `${said} Try again in ${wait} s.` : said;
}

/** "/api/trend" with the parameters that have a value. */
export function address(path, parameters) {
  const query = new URLSearchParams();
  for (const [key, value] of Object.entries(parameters))
    if (value !== undefined && value !== null && value !== "") query.set(key, value);
  return query.size ? `${path}?${query}` : path;
}

const keep = (session) => {
  csrf = session.csrf ?? null;
  return session;
};
export const session = async () => keep(await ask("/api/session"));
export const signIn = async (name, password) => keep(await ask("/api/session", { body: { name, password } }));
export const signOut = async () => keep(await ask("/api/session", { method: "DELETE" }));

const part = encodeURIComponent;
export const actOn = (room, alarm, act, body) =>
  ask(`/api/rooms/${part(room)}/alarms/${part(alarm)}/${part(act)}`, { body });
export const setRegime = (room, body) => ask(`/api/rooms/${part(room)}/regime`, { body });
export const calibrate = (body) => ask("/api/calibrate", { body });
export const orderOutput = (output, body) => ask(`/api/outputs/${part(output)}/order`, { body });
export const orderProgram = (room, loop, body) => ask(`/api/rooms/${part(room)}/loops/${part(loop)}/order`, { body });
export const prove = (output, body) => ask(`/api/outputs/${part(output)}/proof`, { body });
