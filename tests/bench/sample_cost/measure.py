"""Processor time of a sample that reaches a subscriber: the daemon beside a script of pymodbus and paho, at the same time,
at the same rate, by the same broker, from the same servers."""

import json
import pathlib
import sys
import threading
import time

from measuring import SITE, Place, Row, cpu_by_thread, cpu_s, quantile, sensor, tcp_bus

HERE = pathlib.Path(__file__).resolve().parent
BUSES = 5
PACK = "10 s"  # as the manual advises where messages cost
AT_ONCE = 16   # requests: for servers that take so many


def settings(port, broker, sensors):
    text = [SITE, f'[mqtt]\nbroker = "mqtt://127.0.0.1:{broker}"\npack = "{PACK}"\n']
    text += [tcp_bus(f"b{bus}", port + bus, AT_ONCE) for bus in range(BUSES)]
    for bus in range(BUSES):
        for unit in range(1, sensors + 1):
            room = f"r{bus}-{unit}"
            text.append(f'[room.{room}]\nregime = "occupied"\n' +
                        sensor(room, "o2", "oxygen", f"b{bus}", unit, "oxygen-percent-uint16") +
                        f'[room.{room}.alarm.low-oxygen]\nquantity = "oxygen"\nbelow = "19.5 %"\n')
    return "".join(text)


class Subscriber:
    """Counts samples of oxygen that arrive, and how old they are then."""

    def __init__(self, port):
        import paho.mqtt.client as mqtt
        self.lock = threading.Lock()
        self.counts, self.ages_s, self.messages = {"ours": 0, "script": 0}, [], {"ours": 0, "script": 0}
        self.client = mqtt.Client(client_id="reader")
        self.client.on_message = self.on_message
        self.client.on_connect = lambda client, *_: client.subscribe([("script/#", 1), ("oxherd/larkfield/+/o2", 1)])
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def on_message(self, _client, _user, message):
        now, whose = time.time(), "script" if message.topic.startswith("script") else "ours"
        base, samples = 0.0, []
        for record in json.loads(message.payload):
            base = record.get("bt", base)
            if record["n"] == "oxygen":
                samples.append(now - base - record.get("t", 0.0))
        with self.lock:
            self.messages[whose] += 1
            self.counts[whose] += len(samples)
            if whose == "ours":
                self.ages_s += samples

    def take(self):
        with self.lock:
            taken = (dict(self.counts), dict(self.messages), self.ages_s)
            self.ages_s = []
            return taken


def measure_at(options, rate):
    sensors = rate // BUSES
    with Place(options) as place:
        broker, port = place.start_broker(), place.start_servers(BUSES)
        reader = Subscriber(broker)
        daemon = place.start_daemon(settings(port, broker, sensors))
        script = place.start("script", sys.executable, HERE / "script.py", port, broker, BUSES, sensors)
        try:
            place.wait_for("samples of both", lambda: all(n >= rate for n in reader.counts.values()), patience=120)
        except SystemExit:
            raise SystemExit(f"samples did not come: {reader.counts}\n{place.log()[-1500:]}\n{place.log('script')[-1500:]}")
        time.sleep(0 if options.quick else 11)  # the first packs are shorter, so that later ones do not all come at once
        (count0, messages0, _), begun = reader.take(), time.monotonic()
        cpu0, threads0 = [cpu_s(p.pid) for p in (daemon, script)], cpu_by_thread(daemon.pid)
        time.sleep(options.seconds)
        count1, messages1, ages = reader.take()
        cpu1, threads1 = [cpu_s(p.pid) for p in (daemon, script)], cpu_by_thread(daemon.pid)
        passed = time.monotonic() - begun
        came = {w: count1[w] - count0[w] for w in count1}
        ours_us, script_us = ((b - a) / came[w] * 1e6 for a, b, w in zip(cpu0, cpu1, ("ours", "script")))
        more = {"ours_us": ours_us, "script_us": script_us, "samples": came, "passed_s": passed,
                "messages": {w: messages1[w] - messages0[w] for w in messages1},
                "age_s": {"p50": quantile(ages, 0.5), "p99": quantile(ages, 0.99), "max": max(ages)},
                "threads_us": {name: (spent - threads0.get(name, 0)) / came["ours"] * 1e6 for name, spent in threads1.items()}}
        reader.client.loop_stop()
        return Row(f"sample-cost {rate}", f"processor time a sample, {came['ours'] / passed:.0f}/s",
                   f"{ours_us:.1f} us, age p50 {more['age_s']['p50']:.1f} s", f"script {script_us:.1f} us, {came['script'] / passed:.0f}/s",
                   ours_us / script_us, 0.1, at_most=True, more=more)


def measure(options):
    return [measure_at(options, rate) for rate in ((50,) if options.quick else (100, 1000))]
