"""Modbus TCP polls a second of a bus thread, beside a bare loop of libmodbus, in turns of a second each."""

import json
import statistics
import subprocess

from measuring import Place, Row


def measure(options):
    with Place(options) as place:
        port = place.start_servers(1)
        done = subprocess.run([options.bin / "oxherd_bench_polls", str(port), str(options.seconds)], check=True, capture_output=True,
                              text=True)
        found = json.loads(done.stdout)
        ours, bare = (statistics.median(found[name]) for name in ("ours", "bare"))
        return [Row("polls", "Modbus TCP polls a second of a bus thread", f"{ours:.0f}/s", f"bare libmodbus loop {bare:.0f}/s",
                    statistics.median(o / b for o, b in zip(found["ours"], found["bare"])), 0.9, more=found)]
