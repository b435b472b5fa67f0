"""From the decision of an alarm to the accepted write of its relay, under full load: decision_to_coil.py as rows."""

import json
import pathlib
import subprocess
import sys

from measuring import Row

HERE = pathlib.Path(__file__).resolve().parent


def measure(options):
    done = subprocess.run([sys.executable, HERE.parent / "decision_to_coil.py", options.bin, "--seconds", str(max(8, options.seconds)),
                           "--channels", "50" if options.quick else "1000", "--json"], stdout=subprocess.PIPE, text=True)
    if done.returncode != 0:
        raise SystemExit("decision_to_coil.py failed")
    found = json.loads(done.stdout)
    load = f"{found['requests_per_s']:.0f} requests/s, a dead broker, a disk that stands still"
    peer = found["peer"]["p99_ms"]
    ours = found["daemon"]
    return [Row("decision", f"decisions with an accepted coil write within 1 ms; {load}",
                f"{ours['within_1_ms']:.2%}, 99 % within {ours['p99_ms']:g} ms",
                f"99 %; reply to write p99 {found['plant']['p99_ms']:.2f} ms, of a bare loop {peer:.2f} ms", ours["within_1_ms"], 0.99,
                more=found)]
