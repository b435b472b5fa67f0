"""A calibration from the live signal to the reading that rests on it, on the real programs."""

import json
import re
import signal
import subprocess
import unittest
import urllib.request

from plant import BIN, Plant, wait_for


class Calibrate(unittest.TestCase):
    def setUp(self):
        plant = self.plant = Plant()
        self.addCleanup(plant.close)
        # Half a minute of level signal instead of two minutes, and two samples a second: the demo's cells are quick.
        plant.write_config(lambda text: re.sub(r'(cell = \{ model = "concentration", zero = "0.4 mV")',
                                               r'\1, stable_for = "30 s"', text).replace('every = "1 s"',
                                                                                        'every = "500 ms"'))
        plant.start_broker()
        plant.start_site("--speed", 1, "--story", "quiet", "--seed", 3)
        plant.start_daemon()
        wait_for("a monitored room", lambda: plant.room("cryo-annexe")["monitored"])

    def calibrate(self, *arguments, code=0, answer=""):
        done = subprocess.run([BIN / "oxherd", "calibrate", *arguments, "--by", "R. Okafor", "--state-dir",
                               self.plant.state], capture_output=True, text=True, input=answer, timeout=240)
        self.assertEqual(done.returncode, code, done.stderr + done.stdout)
        return done

    def cell(self):
        return next(s for s in self.plant.room("cryo-annexe")["sensors"] if s["sensor"] == "cell-a")

    @staticmethod
    def undated(html):
        """Without the day on which it was written out."""
        return re.sub(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d+)?)?", "TIME", html)

    def explained(self):
        return json.loads(self.plant.oxherd("explain", "--room", "cryo-annexe", "--sensor", "cell-a", "--json").stdout)

    def test_is_taken_from_the_live_signal_outlives_kill_9_and_is_withdrawn(self):
        plant = self.plant
        self.assertIn("is no oxygen cell", self.calibrate("cryo-annexe/air", code=1).stderr)
        done = self.calibrate("cryo-annexe/cell-a", "--give-up", "3 s", code=4)
        self.assertIn("was not stable within", done.stderr)
        done = self.calibrate("cryo-annexe/cell-a", "--zero-first", code=1)
        self.assertIn("nobody answered on standard input", done.stderr)
        wait_for("the cell to be back", lambda: self.cell()["quality"] == "good")
        refused = self.calibrate("cryo-annexe/cell-a", code=4, answer="n\n")
        self.assertIn("Record this?", refused.stderr)
        done = json.loads(self.calibrate("cryo-annexe/cell-a", "--yes", "--json").stdout)
        record = done["record"]
        self.assertEqual((record["number"], record["act"], record["serial"]), (1, "adjustment", "LK-0007"))
        self.assertGreaterEqual(record["points"][0]["stability"]["seconds"], 29.0)
        reads = wait_for("readings on the new calibration", lambda: self.cell()["last"]["dry_fraction"])
        self.assertAlmostEqual(reads, 0.20946, delta=0.0015)
        plant.daemon.kill(signal.SIGKILL)
        plant.daemon.child.wait()
        plant.start_daemon()
        wait_for("a reading after the restart", lambda: self.cell()["quality"] == "good")
        span_mV = record["points"][0]["values"]["signal_V"]["value"] * 1e3
        wait_for("a recorded reading that rests on it", lambda: abs(self.explained()["cal_signal_mv"] - span_mV) < 1e-9)
        self.assertIn("LK-0007", plant.oxherd("calibrations", "cryo-annexe/cell-a").stdout)
        html = plant.oxherd("certificate", "1", "--config", plant.config).stdout
        self.assertIn("<!DOCTYPE html>", html)
        self.assertIn("R. Okafor", html)
        over_http = f"http://127.0.0.1:{plant.http_port}/api/certificates/1"
        with urllib.request.urlopen(over_http + "?format=html", timeout=30) as page:
            self.assertEqual(page.headers["Content-Type"], "text/html; charset=utf-8")
            self.assertEqual(self.undated(page.read().decode()), self.undated(html), "the page gives the same certificate")
        with urllib.request.urlopen(over_http, timeout=30) as statements:
            self.assertEqual(json.load(statements)["record"], record)
        self.calibrate("--withdraw", "1", "--yes", code=2)  # without a reason
        self.calibrate("--withdraw", "1", "--reason", "the dewar stood open", "--yes")
        again = self.calibrate("--withdraw", "1", "--reason", "again", "--yes", code=4)
        self.assertIn("void already", again.stderr)

    def test_a_cell_in_hand_is_a_function_check_and_the_other_two_still_watch_the_room(self):
        child = subprocess.Popen([BIN / "oxherd", "calibrate", "cryo-annexe/cell-b", "--by", "R. Okafor", "--state-dir",
                                  self.plant.state], stdin=subprocess.PIPE, stdout=subprocess.DEVNULL,
                                 stderr=subprocess.DEVNULL)
        self.addCleanup(child.stdin.close)

        def in_hand():
            return next(s for s in self.plant.room("cryo-annexe")["sensors"] if s["sensor"] == "cell-b")
        wait_for("function check", lambda: in_hand()["status"] == "function_check")
        self.assertTrue(self.plant.room("cryo-annexe")["monitored"])
        child.send_signal(signal.SIGINT)
        self.assertEqual(child.wait(30), 1)
        wait_for("the cell to be back", lambda: in_hand()["quality"] == "good")


if __name__ == "__main__":
    unittest.main()
