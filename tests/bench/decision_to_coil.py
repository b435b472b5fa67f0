#!/usr/bin/env python3
"""Measures how long an alarm takes from the reading that makes it to the relay that drops.

    tests/bench/decision_to_coil.py BIN_DIR [--seconds N] [--channels N] [--calm] [--json]

Starts the real daemon with 1,000 channels at 1 Hz, a broker that accepts and never answers, and a store whose disk stops
answering (--calm: without the last two), lets oxygen fall in twenty rooms again and again, and prints median, 99th
percentile and the longest, in milliseconds:

    plant    from the reply that carried the low value until the write that drops the relay arrives, as the plant saw it
    daemon   from the decision until the device had accepted the write, of all relays together, as `oxherd status` counts
             them within bounds: the 99th percentile is at most the bound that is shown
    peer     as `plant`, for a bare loop that polls twenty sensors and writes the relay of a low one, and does nothing else

The plant stands for devices with processors of their own: where the system permits, it goes before ordinary work, as the
daemon's decisions and buses do.
"""
import argparse
import json
import os
import pathlib
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

HERE = pathlib.Path(__file__).resolve().parent
BUSES, RELAYS = 5, 20


def config(port, broker_port, channels):
    text = ['[site]\nname = "larkfield"\nelevation = "212 m"\n',
            f'[mqtt]\nbroker = "mqtt://127.0.0.1:{broker_port}"\n']
    for bus in range(BUSES + 1):
        text.append(f'[bus.b{bus}]\nkind = "modbus-tcp"\naddress = "127.0.0.1:{port + bus}"\n' +
                    ("requests_at_once = 16\n" if bus == BUSES else ""))
    for n in range(channels):
        bus, unit = n // (channels // BUSES), n % (channels // BUSES) + 1
        text.append(f'[room.r{n}]\nregime = "enriched"\n[room.r{n}.sensor.o2]\nmeasures = "oxygen"\nbus = "b{bus}"\n'
                    f'unit = {unit}\nprofile = "oxygen-percent-uint16"\nevery = "1 s"\n'
                    f'[room.r{n}.alarm.low-oxygen]\nquantity = "oxygen"\nbelow = "19.5 %"\nclass = "safety"\n'
                    'latching = false\non_delay = "0 s"\noff_delay = "0 s"\n')
    for n in range(RELAYS):
        text.append(f'[output.relay{n}]\nkind = "alarm-relay"\nroom = "r{n}"\nbus = "b{BUSES}"\nunit = 201\ncoil = {n}\n')
    return "\n".join(text)


def free_ports(count):
    """The first of so many neighbouring ports that nobody uses."""
    for first in range(21000, 60000, 50):
        try:
            sockets = []
            for port in range(first, first + count):
                s = socket.socket()
                sockets.append(s)
                s.bind(("127.0.0.1", port))
            return first
        except OSError:
            continue
        finally:
            for s in sockets:
                s.close()
    raise SystemExit("no free ports")


def deaf_broker():
    """Accepts, and never says a word."""
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    listener.listen()
    kept = []
    threading.Thread(target=lambda: [kept.append(listener.accept()) for _ in iter(int, 1)], daemon=True).start()
    return listener.getsockname()[1]


def go_first(process):
    try:
        os.sched_setscheduler(process.pid, os.SCHED_RR, os.sched_param(1))
    except PermissionError:
        print("real-time priority is not permitted: the plant waits for the processor like other work", file=sys.stderr)


def figures(values_us):
    v = sorted(values_us)
    if not v:
        raise SystemExit("nothing was measured: measure for longer")
    at = lambda q: v[min(len(v) - 1, int(q * len(v)))] / 1000
    return {"p50_ms": at(0.5), "p99_ms": at(0.99), "max_ms": v[-1] / 1000, "count": len(v)}


def decisions(before, after):
    """Of all outputs together, between two answers of `oxherd status`: how many were counted within each bound."""
    def counted(status):
        total, within = 0, {}
        for output in status["outputs"]:
            total += output["decision_to_write"]["count"]
            for one in output["decision_to_write"]["within"]:
                within[one["ms"]] = within.get(one["ms"], 0) + one["count"]
        return total, within
    (n0, w0), (n1, w1) = counted(before), counted(after)
    n = n1 - n0
    if n == 0:
        raise SystemExit("nothing was measured: measure for longer")
    shares = {ms: (w1[ms] - w0[ms]) / n for ms in w1}
    bound = lambda q: min((ms for ms, share in shares.items() if share >= q), default=float("inf"))
    return {"p50_ms": bound(0.5), "p99_ms": bound(0.99), "max_ms": bound(1.0), "count": n, "within_1_ms": shares[1.0]}


def show(found):
    print("{channels} channels, {requests_per_s:.0f} requests/s, {cpu_share:.0%} of one processor; store writing: {writing}, {rows} "
          "rows waiting; broker connected: {connected}; polls dropped: {dropped}; outputs lost: {lost}".format(**found))
    for name in ("plant", "daemon", "peer"):
        print("{0:8} p50 {p50_ms:8.2f} ms   p99 {p99_ms:8.2f} ms   max {max_ms:8.2f} ms   n {count}".format(name, **found[name]) +
              ("   (bounds; {within_1_ms:.2%} within 1 ms)".format(**found[name]) if name == "daemon" else ""))


def main():
    options = argparse.ArgumentParser(usage=__doc__)
    options.add_argument("bin_dir", type=pathlib.Path)
    options.add_argument("--seconds", type=int, default=60)
    options.add_argument("--channels", type=int, default=1000)
    options.add_argument("--calm", action="store_true")
    options.add_argument("--json", action="store_true")
    options = options.parse_args()
    plant_program, oxherd = options.bin_dir / "oxherd_bench_plant", options.bin_dir / "oxherd"
    directory = pathlib.Path(tempfile.mkdtemp(prefix="oxherd-bench-"))
    state = directory / "state"
    state.mkdir()
    children = []

    def start(command, out, **more):
        children.append(subprocess.Popen([str(c) for c in command], stdout=open(out, "wb"), stderr=subprocess.STDOUT, **more))
        return children[-1]

    def latencies(path):
        return [int(line.split()[1]) for line in path.read_text().splitlines() if len(line.split()) == 2]

    try:
        port = free_ports(BUSES + 1)
        go_first(start([plant_program, "serve", port, BUSES, RELAYS], directory / "plant"))
        shim = directory / "stalled_disk.so"
        subprocess.run(["cc", "-O1", "-shared", "-fPIC", "-o", shim, HERE / "outputs/stalled_disk.c", "-ldl"], check=True)
        broker = deaf_broker() if not options.calm else 9
        (directory / "site.toml").write_text(config(port, broker, options.channels))
        env = dict(os.environ, LD_PRELOAD=str(shim), STALL_DIR=str(state))
        daemon = start([oxherd, "run", "--config", directory / "site.toml", "--state-dir", state], directory / "daemon", env=env)

        def status():
            done = subprocess.run([oxherd, "status", "--json", "--state-dir", state], capture_output=True, text=True)
            return json.loads(done.stdout) if done.returncode == 0 else None
        end = time.monotonic() + 120
        while not (s := status()) or not all(o["confirmed"] for o in s["outputs"]):
            if time.monotonic() > end or daemon.poll() is not None:
                raise SystemExit("the daemon did not come up:\n" + (directory / "daemon").read_text()[-2000:])
            time.sleep(1)
        if not options.calm:
            (state / "stall").touch()
        plant = directory / "plant"
        time.sleep(5)
        ticks = lambda: sum(map(int, pathlib.Path(f"/proc/{daemon.pid}/stat").read_text().rsplit(")", 1)[1].split()[11:13]))
        before, polls_before, began = ticks(), sum(b["polls"] for b in status()["buses"]), time.monotonic()
        time.sleep(10)  # so that the question for the status is over
        counted_before = status()
        time.sleep(2)
        skipped = len(latencies(plant))
        time.sleep(options.seconds)
        measured = latencies(plant)[skipped:]
        s, passed = status(), time.monotonic() - began
        cpu = (ticks() - before) / os.sysconf("SC_CLK_TCK") / passed
        found = {"channels": options.channels, "requests_per_s": (sum(b["polls"] for b in s["buses"]) - polls_before) / passed,
                 "cpu_share": cpu, "writing": s["store"]["writing"], "rows": s["store"]["waiting"],
                 "connected": s["mqtt"]["connected"], "dropped": s["polls_dropped"],
                 "lost": sum(o["confirmed"] is False for o in s["outputs"]), "plant": figures(measured),
                 "daemon": decisions(counted_before, s)}
        (state / "stall").unlink(missing_ok=True)
        daemon.send_signal(signal.SIGTERM)
        daemon.wait(30)
        children.remove(daemon)
        children.pop().kill()  # the plant; the peer gets a new one
        port = free_ports(2)
        go_first(start([plant_program, "serve", port, 1, RELAYS], directory / "plant2"))
        time.sleep(0.5)
        subprocess.run([plant_program, "peer", str(port), str(RELAYS), str(options.seconds)], check=True)
        found["peer"] = figures(latencies(directory / "plant2"))
        print(json.dumps(found)) if options.json else show(found)
    finally:
        (state / "stall").unlink(missing_ok=True)
        for child in children:
            child.kill()
            child.wait()


if __name__ == "__main__":
    main()
