#!/usr/bin/env python3
"""How many samples a second `oxherd collect` commits, with a broker, a publisher and a database on the same machine.

    collect.py BIN [--seconds N] [--channels N] [--records N]

Beside it, as the best that can be had: `psql` with COPY of the same rows into an equal table. Prints JSON."""

import argparse
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "system"))

import paho.mqtt.client as mqtt
from historian import Postgres
from plant import Plant, Process, free_port, wait_for

START = 1_790_000_000
TICK = os.sysconf("SC_CLK_TCK")


def cpu_of(pid):
    """Seconds of processor time."""
    fields = pathlib.Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / TICK


def cpu_of_database(database):
    """With what its ended children took."""
    total = 0
    for pid in database.processes():
        fields = pathlib.Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
        of_dead = int(fields[13]) + int(fields[14]) if pid == database.server.child.pid else 0
        total += (int(fields[11]) + int(fields[12]) + of_dead) / TICK
    return total


def packs_of(tick, channels, records):
    """One moment of all channels, in packs of so many records, each sensor with a value and its quality."""
    at = START + tick
    out, pack = [], []
    for sensor in range(channels // 2):
        head = {"bn": f"larkfield/room-{sensor // 50}/cell-{sensor}/"} | ({} if pack else {"bt": at})
        pack.append({**head, "n": "oxygen", "u": "/", "v": 0.2 + (sensor * 7919 + tick * 104729) % 10007 / 1e6})
        pack.append({"n": "quality", "vs": "good"})
        if len(pack) >= records:
            out.append(json.dumps(pack, separators=(",", ":")))
            pack = []
    if pack:
        out.append(json.dumps(pack, separators=(",", ":")))
    return out


def publish(port, channels, records, rate, seconds):
    """A program of its own, so that it does not share a lock with what measures. `rate` 0: as fast as it goes."""
    client = mqtt.Client(client_id="publisher")
    client.max_inflight_messages_set(500)
    client.max_queued_messages_set(0)
    client.connect("127.0.0.1", port)
    client.loop_start()
    # Formed beforehand: making JSON in Python is slower than all that is measured here. Only the time is put in anew.
    moulds = [pack.replace(f'"bt":{START}', '"bt":@') for pack in packs_of(0, channels, records)]
    begin, tick, sent = time.monotonic(), 0, []
    while time.monotonic() - begin < seconds:
        for mould in moulds:
            sent.append(client.publish("oxherd/larkfield/measurements", mould.replace("@", str(START + tick)), qos=1))
        tick += 1
        while len(sent) > 400:
            sent.pop(0).wait_for_publish(60)
        if rate:
            time.sleep(max(0.0, begin + tick * channels / rate - time.monotonic()))
    for one in sent:
        one.wait_for_publish(60)
    client.loop_stop()
    print(json.dumps({"samples": tick * channels, "seconds": time.monotonic() - begin}), flush=True)


def copy_directly(database, rows):
    """Rows a second of COPY into a table with the same columns and key, as psql does it."""
    database.query("CREATE TABLE peer (channel integer NOT NULL, quality smallint, at timestamptz NOT NULL, value double "
                   "precision, words text, PRIMARY KEY (channel, at))")
    per_tick = 1000
    lines = []
    for row in range(rows):
        tick, channel = divmod(row, per_tick)
        at = time.strftime("%Y-%m-%d %H:%M:%S+00", time.gmtime(START + tick))
        value, words = ((f"{0.2 + (channel * 7919 + tick * 104729) % 10007 / 1e6:.6f}", r"\N") if channel % 2 == 0
                        else (r"\N", "good"))
        lines.append(f"{channel}\t1\t{at}\t{value}\t{words}\n")
    batch = 20_000  # rows of one transaction
    file = database.dir.parent / "peer.sql"
    with open(file, "w") as out:
        for begin in range(0, len(lines), batch):
            out.write("COPY peer FROM STDIN;\n" + "".join(lines[begin:begin + batch]) + "\\.\n")
    before, begin = cpu_of_database(database), time.monotonic()
    subprocess.run([database.programs / "psql", "-q", "-X", "-h", database.dir, "-U", "oxherd", "-d", "oxherd", "-f", file],
                   check=True)
    took = time.monotonic() - begin
    return {"rows": rows, "rows_a_second": round(rows / took), "seconds": round(took, 2),
            "database_cpu_us_a_row": round((cpu_of_database(database) - before) / rows * 1e6, 2)}


def measure(options):
    folder = pathlib.Path(tempfile.mkdtemp(prefix="oxherd-bench-"))
    database, broker, collector = Postgres(folder / "postgres"), None, None
    try:
        database.start("-c", "max_wal_size=4GB", "-c", "shared_buffers=256MB")
        port = free_port()
        (folder / "broker.conf").write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\nmax_queued_messages 0\n")
        broker = Process("broker", ["/usr/sbin/mosquitto", "-c", folder / "broker.conf"], folder / "broker.log")
        wait_for("the broker's port", lambda: Plant.port_open(port))
        (folder / "collect.toml").write_text(f'[mqtt]\nbroker = "mqtt://127.0.0.1:{port}"\n[database]\nhost = "{database.dir}"\n'
                                             'user = "oxherd"\n[http]\nlisten = "off"\n')
        collector = Process("collector", [options.bin / "oxherd", "collect", "--config", folder / "collect.toml"],
                            folder / "collector.log")
        collector.wait_for_text("reading from the broker")
        pids = {"broker": broker.child.pid, "collect": collector.child.pid}
        before = {name: cpu_of(pid) for name, pid in pids.items()} | {"database": cpu_of_database(database)}
        begin = time.monotonic()
        sender = subprocess.Popen([sys.executable, __file__, str(options.bin), "--publish-to", str(port), "--seconds",
                                   str(options.seconds), "--channels", str(options.channels), "--records",
                                   str(options.records), "--rate", str(options.rate)], stdout=subprocess.PIPE, text=True)
        sent = json.loads(sender.communicate()[0])
        wait_for("all samples", lambda: database.number("SELECT count(*) FROM sample") >= sent["samples"], 600, every=0.5)
        took = time.monotonic() - begin
        there = database.number("SELECT count(*) FROM sample")
        if there != sent["samples"]:
            sys.exit(f"{sent['samples']} samples were published, {there} are there")
        cpu = {name: cpu_of(pid) - before[name] for name, pid in pids.items()}
        cpu["database"] = cpu_of_database(database) - before["database"]
        size = database.number("SELECT sum(pg_total_relation_size(inhrelid)) FROM pg_inherits WHERE inhparent = "
                               "'sample'::regclass")
        peer = copy_directly(database, min(there, 1_000_000))
        return {"channels": options.channels, "records_a_pack": options.records, "samples": there, "seconds": round(took, 2),
                "samples_a_second_committed": round(there / took),
                "published_a_second": round(sent["samples"] / sent["seconds"]),
                "cpu_us_a_sample": {name: round(value / there * 1e6, 2) for name, value in cpu.items()},
                "bytes_a_sample": round(size / there, 1), "processors": os.cpu_count(),
                "load": round(os.getloadavg()[0], 1), "peer_psql_copy": peer}
    finally:
        for one in (collector, broker):
            if one:
                one.end()
        database.end()
        shutil.rmtree(folder, ignore_errors=True)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("bin", type=pathlib.Path)
    parser.add_argument("--seconds", type=float, default=30)
    parser.add_argument("--channels", type=int, default=1000)
    parser.add_argument("--records", type=int, default=500, help="records of a pack")
    parser.add_argument("--rate", type=float, default=0, help="samples a second to publish; 0: as many as go")
    parser.add_argument("--publish-to", type=int, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.publish_to:
        publish(options.publish_to, options.channels, options.records, options.rate, options.seconds)
    else:
        print(json.dumps(measure(options), indent=2))


if __name__ == "__main__":
    main()
