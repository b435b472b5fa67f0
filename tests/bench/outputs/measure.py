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
    return [Row("decision", f"p99 from decision to accepted coil write; {load}", f"{found['daemon']['p99_ms']:.2f} ms",
                f"1 ms; reply to write {found['plant']['p99_ms']:.2f} ms, of a bare loop {peer:.2f} ms", found["daemon"]["p99_ms"], 1.0,
                at_most=True, more=found)]
