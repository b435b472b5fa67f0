// Whether Oxherd itself is well: buses, outputs, records, broker, telling people.
import { h } from "../dom.js";
import { duration, size } from "../format.js";
import { atSite, empty, live as liveNumber, mark, oldNote, roomLink, section, since, table, when } from "../pieces.js";
import { daemonNow, knownRooms, onlyShows, siteIsCurrent, state } from "../state.js";
import { spoken } from "../words.js";
import { outputMark, proofActs, proofWords } from "../proofs.js";

export const title = () => "Health";
export const live = true;

export function render() {
  const site = state.site;
  if (!site) return [h("h1", "Health"), empty("Waiting for Oxherd.")];
  const current = siteIsCurrent();
  return [
    h("h1", "Health"),
    h(
      "p.summary",
      `Oxherd ${site.version}, started `,
      when(site.started),
      "; ",
      liveNumber(`${site.evaluations} ${onlyShows() ? "looks at the database" : "evaluations"}`, current),
      site.polls_dropped ? mark("high", "triangle", `${site.polls_dropped} polls dropped`) : null,
    ),
    current ? null : oldNote(state.siteTold.wall),
    onlyShows() ? section("Sites", sites()) : plant(site, current),
    site.collect ? section("Collected", collected(site.collect, current)) : null,
    section("Records", store(site.store, current)),
    section("Broker", broker(site.mqtt, current)),
    site.sparkplug.configured ? section("Sparkplug", edgeNode(site.sparkplug)) : null,
    section("This page", thePage(site.http)),
    onlyShows() ? null : section("Telling people", people(site.notify)),
  ];
}

/** Of whom the historian hears. */
function sites() {
  const bySite = new Map();
  for (const { room } of knownRooms()) {
    const [site] = room.room.split("/");
    bySite.set(site, [...(bySite.get(site) ?? []), room]);
  }
  if (!bySite.size) return empty("None was heard yet.");
  return [
    table("Sites", ["site", "state", "rooms"], [...bySite].map(siteRow)),
    atSite("Buses, outputs and who is told are shown at the site's own daemon."),
  ];
}

function plant(site, current) {
  return [
    section(
      "Buses",
      site.buses.length
        ? table("Buses", ["bus", "state", "polls", "failures"], site.buses.map(busRow(current)))
        : empty("None is set up."),
    ),
    section(
      "Outputs",
      site.outputs.length
        ? table(
            "Outputs",
            ["output", "state", "proof", "from decision to device"],
            site.outputs.map(outputRow(current)),
          )
        : empty("None is set up."),
    ),
  ];
}

const ok = (words) => h("span.quiet", words);
const bad = (words) => mark("high", "triangle", words);
const busRow = (current) => (bus) => ({
  key: bus.name,
  cells: [
    h("b", bus.name),
    bus.connected && !bus.trouble ? ok("connected") : bad(`${bus.connected ? "" : "NOT CONNECTED "}${bus.trouble}`),
    liveNumber(String(bus.polls), current),
    liveNumber(String(bus.failures), current),
  ],
});

const siteRow = ([site, rooms]) => {
  const blind = rooms.filter((room) => !room.monitored);
  return {
    key: site,
    cells: [
      h("b", site),
      blind.length
        ? blind.map((room) => h("div", bad(`${room.room} NOT MONITORED: ${room.reason}`)))
        : ok("every room is monitored"),
      rooms.map((room) => h("div", roomLink(room.room))),
    ],
  };
};

const outputRow = (current) => (output) => ({
  key: output.name,
  cells: [
    [h("b", output.name), h("div.quiet", `${spoken(output.kind)}, bus ${output.bus}`)],
    outputMark(output),
    [proofWords(output), proofActs(output, current)],
    output.decision_to_write?.count
      ? `half within ${output.decision_to_write.p50_ms} ms, 99 % within ${output.decision_to_write.p99_ms} ms`
      : ok("nothing written yet"),
  ],
});

const queue = (one, current) => h("p", liveNumber(`${one.waiting} waiting, ${one.dropped} dropped`, current));
function store(one, current) {
  return [
    h("p", one.writing ? ok("being written") : bad(`NOT WRITTEN: ${one.trouble || "no reason was given"}`)),
    queue(one, current),
    one.bytes === null
      ? null
      : h(
          "p.quiet",
          liveNumber(`${size(one.bytes)}, ${(one.free_share * 100).toFixed(0)} % of the disk free`, current),
        ),
    one.shortened
      ? h("p", mark("high", "triangle", "DISK SHORT OF ROOM: the oldest measurements are deleted before their time."))
      : null,
  ];
}
const connection = (one) =>
  h("p", one.connected ? ok("connected") : bad(`NOT CONNECTED: ${one.trouble || "no reason was given"}`));

function broker(one, current) {
  if (!one.configured) return empty("None is set up.");
  return [
    connection(one),
    queue(one, current),
    one.on_disk ? h("p.quiet", liveNumber(`${one.on_disk} of them on disk`, current)) : null,
    one.disk_trouble ? h("p", mark("high", "triangle", `NOT ON DISK: ${one.disk_trouble}`)) : null,
  ];
}

/** The site as an edge node, on a connection of its own. */
function edgeNode(one) {
  return [
    connection(one),
    h("p.quiet", `told anew ${one.births} times since the start`),
    one.commands_ignored
      ? h("p", mark("doubt", "triangle", `${one.commands_ignored} commands came that are not obeyed`))
      : null,
  ];
}

/** What the historian made of what came; what was left out is told only once there is something. */
function collected(one, current) {
  const leftOut = [
    [one.differing, "samples left out: another value stands at their time"],
    [one.without_use, "samples left out: nobody can have measured at their time"],
    [one.malformed, "messages left out: not to be understood, or refused by the database"],
  ].filter(([count]) => count > 0);
  return [
    h("p", liveNumber(`${one.received} messages came, ${one.stored} samples stored, ${one.again} came again`, current)),
    h("p.quiet", one.last_commit ? ["confirmed by the database ", since(one.last_commit)] : "nothing confirmed yet"),
    leftOut.map(([count, words]) => h("p", mark("doubt", "triangle", `${count} ${words}`))),
    one.roll_up_trouble ? h("p", bad(`NO MINUTES AND HOURS ARE MADE: ${one.roll_up_trouble}`)) : null,
  ];
}

const month_s = 30 * 86400;
function thePage({ address, certificate_until, connections, streams }) {
  const left_s = certificate_until ? (Date.parse(certificate_until) - daemonNow()) / 1000 : null;
  const until = certificate_until ? when(certificate_until) : null;
  return [
    h("p", `${address}, ${connections} connections, ${streams} of them live`),
    left_s === null
      ? h("p.quiet", "Without encryption: served to this machine alone.")
      : left_s > month_s
        ? h("p.quiet", "Certificate valid until ", until)
        : h(
            "p",
            bad(left_s > 0 ? "CERTIFICATE ENDS SOON: " : "CERTIFICATE HAS ENDED: "),
            until,
            "; renew its files, they are taken up by themselves",
          ),
  ];
}

function people(one) {
  if (!one?.configured) return h("p", bad("NOBODY IS TOLD: no contact is set up"));
  const troubles = one.troubles ?? [];
  return [
    troubles.length
      ? h(
          "ul.plain",
          troubles.map((words) => h("li", bad(words))),
        )
      : h("p", ok("no trouble")),
    h(
      "p",
      `${one.to_be_told ?? 0} to be told, ${one.waiting ?? 0} messages waiting, ${one.unanswered ?? 0} unanswered.`,
    ),
    one.watcher?.configured
      ? h(
          "p",
          one.watcher.trouble
            ? bad(`the watcher outside does not take the heartbeat: ${one.watcher.trouble}`)
            : ok("the watcher outside takes the heartbeat"),
          one.watcher.last_taken
            ? [
                " (last ",
                when(one.watcher.last_taken),
                `, ${duration((Date.now() - Date.parse(one.watcher.last_taken)) / 1000)} ago)`,
              ]
            : null,
        )
      : h("p", mark("doubt", "triangle", "no watcher outside: nobody learns when Oxherd itself falls silent")),
  ];
}
