// Stands in for the daemon: serves the page and tells Larkfield's rooms, while a test decides what happens.
import { randomBytes } from "node:crypto";
import { readFile } from "node:fs/promises";
import { createServer } from "node:http";
import { extname, join, normalize } from "node:path";
import { fileURLToPath } from "node:url";
import {
  alarm as anyAlarm,
  caution,
  larkfieldCells,
  larkfieldJournal,
  larkfieldOutputs,
  larkfieldRooms,
  larkfieldSite,
  larkfieldTrend,
  lowOxygen,
} from "./larkfield.mjs";
import { heaterFallenBack, nitrogenTripped, orderOutput, orderProgram, ventsByHand } from "./larkfield_control.mjs";
import { daemonsDescription, explainNames, lacking } from "./stand_in_contract.mjs";
import { CalibrationDesk } from "./stand_in_desk.mjs";

const here = fileURLToPath(new URL(".", import.meta.url));
export const pageFolder = join(here, "../../daemon/web/page");
export const libraryFolder = join(here, "../../daemon/web/node_modules/uplot/dist");
const csp =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; font-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";
const kinds = {
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript; charset=utf-8",
  ".css": "text/css; charset=utf-8",
  ".svg": "image/svg+xml",
};
const people = {
  mira: { password: "larkfield-1", role: "engineer" },
  otis: { password: "larkfield-2", role: "operator" },
  historian: { password: "larkfield-3", role: "viewer" },
};
const problem = (status, title, detail) => ({
  status,
  body: { type: "about:blank", title, status, detail },
  type: "application/problem+json",
});
const ok = (body) => ({ status: 200, body, type: "application/json" });

export class StandIn {
  constructor() {
    this.rooms = larkfieldRooms();
    this.journal = larkfieldJournal();
    this.ofTheSite = {}; // what a test wants to be otherwise
    this.streams = new Set();
    this.sessions = new Map();
    this.asked = []; // every request, for tests that look at what the page asked
    this.instance = randomBytes(8).toString("hex");
    this.evaluations = 100;
    this.beating = true;
    this.evaluating = true;
    this.answering = true;
    this.mayView = true;
    this.users = true;
    this.desk = new CalibrationDesk();
    this.outputs = larkfieldOutputs();
    this.server = createServer((request, response) => this.answer(request, response));
  }
  async start(port = 0) {
    await new Promise((resolve) => this.server.listen(port, "127.0.0.1", resolve));
    this.url = `http://127.0.0.1:${this.server.address().port}`;
    this.timer = setInterval(() => this.tick(), 1000);
    return this;
  }
  async stop() {
    clearInterval(this.timer);
    this.cutStreams();
    this.server.closeAllConnections();
    await new Promise((resolve) => this.server.close(resolve));
  }

  // --- what a test may do ---
  room(name) {
    return this.rooms.find((one) => one.room === name);
  }
  alarm(room, name) {
    return this.room(room).alarms.find((one) => one.alarm === name);
  }
  tellRoom(name) {
    this.room(name).at = new Date().toISOString();
    this.send("room", this.room(name));
  }
  setRoom(name, change) {
    Object.assign(this.room(name), change);
    this.tellRoom(name);
  }
  setAlarm(room, name, change) {
    if (!this.alarm(room, name)) this.room(room).alarms.push(anyAlarm(room, name));
    Object.assign(this.alarm(room, name), { since: new Date().toISOString() }, change);
    this.send("alarm", this.alarm(room, name));
    this.tellRoom(room);
  }
  setActuator(name, change) {
    const room = this.rooms.find((one) => one.control.some((it) => it.output === name));
    Object.assign(
      room.control.find((it) => it.output === name),
      change,
    );
    this.tellRoom(room.room);
  }
  raiseLowOxygen() {
    for (const sensor of this.room("cryo-annexe").sensors)
      if (sensor.last.dry_fraction) sensor.last.dry_fraction -= 0.0166;
    this.setRoom("cryo-annexe", { dry_fraction: 0.1929, u_expanded: 0.0013, relay_energised: false });
    this.setAlarm("cryo-annexe", "low-oxygen", lowOxygen);
  }
  cutStreams() {
    for (const stream of this.streams) stream.destroy();
    this.streams.clear();
  }
  goAway() {
    this.answering = false;
    this.cutStreams();
  }
  comeBack() {
    this.answering = true;
  }
  restart() {
    this.instance = randomBytes(8).toString("hex");
    this.evaluations = 0;
    this.cutStreams();
  }

  // --- the live stream ---
  send(event, data) {
    for (const stream of this.streams) stream.write(`event: ${event}\ndata: ${JSON.stringify(data)}\n\n`);
  }
  tick() {
    if (this.evaluating) this.evaluations += 4;
    if (!this.beating) return;
    this.send("beat", { now: new Date().toISOString(), evaluations: this.evaluations });
    for (const room of this.rooms)
      for (const sensor of room.sensors)
        if (sensor.last && sensor.quality !== "bad") {
          sensor.last.at = new Date().toISOString();
          this.send("reading", {
            room: room.room,
            sensor: sensor.sensor,
            quality: sensor.quality,
            status: sensor.status,
            reasons: sensor.reasons.map((one) => one.text),
            ...sensor.last,
          });
        }
    if (this.evaluations % 40 === 0) for (const room of this.rooms) this.tellRoom(room.room);
  }
  openStream(request, response) {
    response.writeHead(200, { "Content-Type": "text/event-stream", "Cache-Control": "no-store" });
    response.write("retry: 2000\n\n");
    this.streams.add(response);
    request.on("close", () => this.streams.delete(response));
    const one = (event, data) => response.write(`event: ${event}\ndata: ${JSON.stringify(data)}\n\n`);
    one("hello", {
      site: "larkfield",
      version: "0.1.0",
      now: new Date().toISOString(),
      caution,
      instance: this.instance,
      beat_ms: 1000,
    });
    for (const room of this.rooms) one("room", room);
    if (this.beating) one("beat", { now: new Date().toISOString(), evaluations: this.evaluations });
  }

  // --- requests ---
  async answer(request, response) {
    if (!this.answering) return request.destroy();
    const url = new URL(request.url, "http://127.0.0.1");
    const chunks = [];
    for await (const chunk of request) chunks.push(chunk);
    const text = Buffer.concat(chunks).toString();
    const body = text ? JSON.parse(text) : undefined;
    this.asked.push({ method: request.method, path: url.pathname, query: Object.fromEntries(url.searchParams), body });
    if (url.pathname === "/api/stream") return this.openStream(request, response);
    const given = url.pathname.startsWith("/api/") ? this.api(request, url, body) : await this.file(url.pathname);
    response.writeHead(given.status, {
      "Content-Type": given.type,
      "Content-Security-Policy": csp,
      "X-Content-Type-Options": "nosniff",
      "Cache-Control": "no-store",
      ...given.headers,
    });
    return response.end(given.type.includes("json") ? JSON.stringify(given.body) : given.body);
  }
  async file(path) {
    const name = path === "/" ? "index.html" : normalize(path).slice(1);
    const folder = name.startsWith("uPlot") ? libraryFolder : pageFolder;
    try {
      return { status: 200, body: await readFile(join(folder, name)), type: kinds[extname(name)] ?? "text/plain" };
    } catch {
      return problem(404, "Not found", `There is no ${path}.`);
    }
  }
  user(request) {
    return this.sessions.get(/session=(\w+)/.exec(request.headers.cookie ?? "")?.[1]) ?? null;
  }
  told(user) {
    return {
      user: user && { name: user.name, role: user.role },
      csrf: user?.csrf ?? null,
      may_view: this.mayView || user !== null,
      users: this.users,
      only_shows: false,
    };
  }
  api(request, url, body) {
    const path = url.pathname;
    const query = Object.fromEntries(url.searchParams);
    const user = this.user(request);
    if (path === "/api/session") return this.session(request, body, user);
    if (!this.mayView && !user)
      return problem(401, "Sign in first", "At this site only people who are signed in may look.");
    if (request.method !== "GET" && path !== "/api/explain") {
      if (!user) return problem(401, "Sign in first", "Nobody is signed in.");
      if (request.headers["oxherd-csrf"] !== user.csrf)
        return problem(403, "Refused", "The request did not come from this page.");
    }
    const missing = lacking(this.description, request.method, path, query, body);
    if (missing) return problem(400, "Bad Request", `${path} needs "${missing}"`);
    const [, room, name, act] = /^\/api\/rooms\/([^/]+)\/alarms\/([^/]+)\/(\w+)$/.exec(path) ?? [];
    if (act) return this.act(room, name, act, body, user);
    const regime = /^\/api\/rooms\/([^/]+)\/regime$/.exec(path);
    if (regime) return this.regime(regime[1], body, user);
    const proved = /^\/api\/outputs\/([^/]+)\/proof$/.exec(path);
    if (proved) return this.prove(proved[1], body, user);
    const ordered = /^\/api\/outputs\/([^/]+)\/order$/.exec(path);
    if (ordered) return orderOutput(this, ordered[1], body, user);
    const program = /^\/api\/rooms\/([^/]+)\/loops\/([^/]+)\/order$/.exec(path);
    if (program) return orderProgram(this, program[1], program[2], body);
    if (path === "/api/site")
      return ok({ ...larkfieldSite(this.rooms, this.outputs), evaluations: this.evaluations, ...this.ofTheSite });
    if (path === "/api/alarms")
      return ok({ now: new Date().toISOString(), caution, alarms: this.rooms.flatMap((one) => one.alarms) });
    if (path === "/api/history/alarms") return ok(this.linesOfJournal(query));
    if (path === "/api/trend")
      return ok(
        larkfieldTrend({
          room: query.room,
          quantity: query.quantity,
          from_ms: Date.parse(query.from),
          to_ms: Date.parse(query.to),
          points: +query.points,
        }),
      );
    if (path === "/api/explain") return this.explain(request, query, body);
    if (path === "/api/calibrations") return this.calibrations(query);
    if (path === "/api/calibrate") return this.desk.step(body, user.name);
    return problem(404, "Not found", `There is no ${path}.`);
  }
  session(request, body, user) {
    if (request.method === "DELETE") {
      this.sessions.clear();
      return ok(this.told(null));
    }
    if (request.method === "GET") return ok(this.told(user));
    const known = people[body.name];
    if (!known || known.password !== body.password)
      return problem(401, "Not signed in", "The name or the password is wrong.");
    const id = randomBytes(8).toString("hex");
    const made = { name: body.name, role: known.role, csrf: randomBytes(8).toString("hex") };
    this.sessions.set(id, made);
    return { ...ok(this.told(made)), headers: { "Set-Cookie": `session=${id}; HttpOnly; SameSite=Strict; Path=/` } };
  }
  act(room, name, act, body, user) {
    const one = this.room(room) && this.alarm(room, name);
    if (!one) return problem(404, "Unknown", `There is no alarm ${room}/${name}.`);
    const hides = act.startsWith("shelve") || act === "remove_from_service";
    if (act.startsWith("shelve") && one.safety) return problem(409, "Refused", "A safety alarm cannot be shelved.");
    if (hides && !body.comment) return problem(409, "Refused", "A reason is needed.");
    const at_most = act === "remove_from_service" ? one.out_of_service_at_most_s : one.shelve_at_most_s;
    if (hides && !(body.duration_s > 0 && body.duration_s <= at_most))
      return problem(409, "Refused", `${body.duration_s} s is too long: give at most ${at_most} s`);
    if (act === "test" && !(body.duration_s > 5))
      return problem(409, "Refused", "the alarm comes after 5 s: give the test more time than that");
    const next =
      {
        acknowledge: one.state === "latched_unacknowledged" ? "latched_acknowledged" : "acknowledged",
        reset: "normal",
        shelve: "shelved",
        shelve_once: "shelved",
        unshelve: "normal",
        remove_from_service: "out_of_service",
        return_to_service: "normal",
      }[act] ?? one.state;
    const suppression = hides
      ? { until: new Date(Date.now() + body.duration_s * 1000).toISOString(), by: user.name, reason: body.comment }
      : null;
    this.setAlarm(room, name, { state: next, sounding: false, suppression, since: one.since });
    return ok({ alarm: this.alarm(room, name), recorded: true });
  }
  output(name) {
    return this.outputs.find((one) => one.name === name);
  }
  /** The time of a proof test is over: the device holds what it was told. */
  endDriving(name) {
    Object.assign(this.output(name).proof, { driving: false, awaiting_answer: true });
  }
  prove(name, { step, duration_s, comment = "" }, user) {
    const proof = this.output(name)?.proof;
    if (!proof) return problem(404, "Unknown", `there is no output ${name}: \`oxherd status\` lists them`);
    if (user.role !== "engineer")
      return problem(403, "Refused", `${user.name} is ${user.role}: this needs the role engineer`);
    const told = (event, text) => ok({ proof: { output: name, event: `proof-test-${event}`, text }, recorded: true });
    if (step === "begin") {
      if (!(duration_s >= 3 && duration_s <= 60)) return problem(409, "Refused", "a test takes 3 s to 60 s");
      Object.assign(proof, { test_by: user.name, driving: true, awaiting_answer: false });
      return told("begun", `PROOF TEST of ${name}: it sounds for ${duration_s} s.`);
    }
    if (!proof.test_by) return problem(409, "Refused", "no test of it waits for an answer: begin one");
    if (proof.driving && step === "worked")
      return problem(409, "Refused", "the test still runs: answer when it has ended");
    const now = new Date().toISOString();
    Object.assign(proof, { test_by: "", driving: false, awaiting_answer: false, last: step, last_at: now });
    Object.assign(proof, { last_by: user.name, overdue: step === "failed", comment });
    if (step === "worked")
      Object.assign(proof, { worked_at: now, due: new Date(Date.now() + 180 * 864e5).toISOString() });
    return told(step, `PROOF TEST of ${name}: ${step === "worked" ? "worked" : "FAILED"} by the word of ${user.name}.`);
  }
  regime(name, body, user) {
    if (!body.comment) return problem(409, "Refused", "A reason is needed.");
    this.setRoom(name, {
      regime: body.regime,
      regime_by: user.name,
      regime_because: body.comment,
      regime_since: new Date().toISOString(),
    });
    return ok({ room: this.room(name), recorded: true });
  }
  calibrations({ room, sensor }) {
    const now = new Date().toISOString();
    if (!room) return ok({ now, cells: larkfieldCells() });
    const cell = larkfieldCells().find((one) => one.room === room && one.sensor === sensor);
    return cell
      ? ok({ now, cell, records: this.desk.records(cell) })
      : problem(404, "Unknown", `There is no cell ${room}/${sensor}.`);
  }
  async explainedText() {
    return readFile(join(here, "explained.json"), "utf8");
  }
  /** The newest first, `limit` at once, as the daemon gives them. */
  linesOfJournal({ room, before, limit }) {
    const wanted = this.journal
      .filter((one) => (!room || one.room === room) && (!before || one.sequence < +before))
      .sort((a, b) => a.sequence - b.sequence);
    const alarms = wanted.slice(-limit);
    const truncated = alarms.length < wanted.length;
    return { truncated, next: truncated ? alarms[0].sequence : null, alarms };
  }
  explain(request, query, body) {
    if (request.method === "POST" && !body.signal)
      return problem(409, "Refused", "--signal is missing: signal of the cell now, such as --signal 11.9mV");
    const unknown = Object.keys(body ?? {}).find((name) => !this.explainNames.has(name));
    if (unknown) return problem(409, "Refused", `there is no value "${unknown}"; \`oxherd explain --help\` lists them`);
    const missing = ["temperature", "humidity", "cal-signal"].filter((name) => body && !body[name]);
    if (missing.length)
      return problem(409, "Refused", missing.map((name) => `--${name} is missing, such as --${name} 1`).join("; "));
    const answer = structuredClone(this.explained);
    if (query.room)
      answer.stored = {
        at: query.at ?? new Date().toISOString(),
        room: query.room,
        sensor: query.sensor,
        serial: "LK-0007",
        reasons: [],
        every_digit_agrees: true,
        calibration: { from: "record", number: 3, performed: null },
        recorded: {},
        formed_anew: {},
        derivation: null,
      };
    return ok(answer);
  }
}

/** A day on which much is to be seen: an alarm, a room that nobody watches, a shelved alarm. */
export function showTroubles(standIn) {
  standIn.raiseLowOxygen();
  standIn.setRoom("growth-chamber-1", { monitored: false, reason: "cell: no reply for 6 s" });
  Object.assign(standIn.room("growth-chamber-1").sensors[0], {
    quality: "bad",
    status: "failure",
    reasons: [{ status: "failure", text: "no reply for 6 s" }],
  });
  standIn.setAlarm("growth-chamber-1", "not-monitored", {
    state: "acknowledged",
    present: true,
    text: "growth-chamber-1 IS NOT MONITORED: cell: no reply for 6 s. Treat its air as unknown. Do not enter without testing with a certified monitor.",
  });
  standIn.setAlarm("pear-store-2", "high-oxygen", {
    state: "shelved",
    suppression: { until: new Date(Date.now() + 3.6e6).toISOString(), by: "R. Okafor", reason: "flushing" },
  });
  standIn.setActuator("pear-nitrogen", nitrogenTripped());
  standIn.setActuator("bay-vents", ventsByHand());
  const [heater] = standIn.room("growth-chamber-1").control;
  standIn.setActuator("chamber-heater", heaterFallenBack(heater.loop));
}

export async function startStandIn(port = 0) {
  const standIn = new StandIn();
  standIn.description = await daemonsDescription();
  standIn.explainNames = await explainNames();
  standIn.explained = JSON.parse(await standIn.explainedText());
  return standIn.start(port);
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const standIn = await startStandIn(Number(process.argv[2] ?? 0));
  console.log(`${standIn.url} (sign in as mira, larkfield-1); end with Ctrl-C`);
  if (process.argv.includes("--alarm")) standIn.raiseLowOxygen();
}
