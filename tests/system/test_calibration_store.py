"""A store that cannot write while a cell is calibrated, on the real programs: the person is told plainly, nothing changes,
and once there is room again it is recorded."""

import datetime
import json
import os
import subprocess
import unittest

from plant import BIN, Plant, wait_for

CELL = "cryo-annexe/cell-a"
AN_HOUR_AGO = (datetime.datetime.now(datetime.timezone.utc) - datetime.timedelta(hours=1)).isoformat("T", "seconds")


@unittest.skipUnless(os.geteuid() == 0, "needs root to mount a small file system")
class CalibrationStore(unittest.TestCase):
    def setUp(self):
        plant = self.plant = Plant()
        self.addCleanup(plant.close)
        self.small = plant.dir / "small"
        self.small.mkdir()
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=32m", "tmpfs", self.small], check=True)
        self.addCleanup(lambda: subprocess.run(["umount", "-l", self.small], check=True))
        plant.state = self.small / "state"
        plant.start_site("--speed", 1, "--story", "quiet", "--seed", 3)
        plant.start_daemon()
        wait_for("a monitored room", lambda: plant.room("cryo-annexe")["monitored"])

    def begin(self, signal, *arguments):
        """A point that was written down elsewhere: the store is what this is about, not the wait for a level signal."""
        return subprocess.Popen([BIN / "oxherd", "calibrate", CELL, "--by", "R. Okafor", "--signal", signal,
                                 "--temperature", "21C", "--humidity", "45%", "--pressure", "99.8kPa", "--performed",
                                 AN_HOUR_AGO, "--reason", "from the logbook", "--state-dir",
                                 self.plant.state, *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE, text=True)

    def done(self, child, answers=""):
        out, err = child.communicate(answers, timeout=60)
        return child.returncode, out, err

    def records(self):
        return json.loads(self.plant.oxherd("calibrations", CELL, "--json").stdout)["records"]

    def fresh_reading(self):
        """What the cell reads, by a poll that comes after this call."""
        asked = datetime.datetime.now(datetime.timezone.utc).isoformat("T", "milliseconds")

        def found():
            cell = next(s for s in self.plant.room("cryo-annexe")["sensors"] if s["sensor"] == "cell-a")
            last = cell["last"]
            return last if last["at"][:23] > asked[:23] and last["dry_fraction"] is not None else None
        return wait_for("a fresh reading", found)["dry_fraction"]

    def fill(self):
        """To the last block, with the reserve gone too: it is there for records, and the first of them takes it up."""
        fill = self.plant.fill_disk(self.small)
        wait_for("the store's trouble", lambda: "disk full" in self.plant.status()["store"]["trouble"])
        code, _, err = self.done(self.begin("12.5mV", "--yes"))
        self.assertEqual(code, 0, "the reserve is for records: " + err)
        return self.plant.fill_disk(self.small)

    def test_a_full_disk_is_said_plainly_and_changes_nothing(self):
        plant = self.plant
        fill = self.fill()
        self.assertEqual([r["record"]["number"] for r in self.records()], [1])
        before = self.fresh_reading()

        code, out, err = self.done(self.begin("12.0mV", "--yes"))
        self.assertEqual((code, out), (1, ""))
        self.assertRegex(err, r"oxherd calibrate: NOT RECORDED: .*disk full.*\. The former calibration of "
                              r"cryo-annexe/cell-a stays in force")
        self.assertEqual([r["record"]["number"] for r in self.records()], [1])
        # 12.0 mV instead of 12.5 mV would have made 0.9 % of oxygen; the cell's noise is 0.01 %.
        self.assertAlmostEqual(self.fresh_reading(), before, delta=0.001)
        self.assertTrue(plant.room("cryo-annexe")["monitored"])
        self.assertIn("NOT recorded", plant.daemon.text())

        withdrawn = subprocess.run([BIN / "oxherd", "calibrate", "--withdraw", "1", "--reason", "the wrong page",
                                    "--by", "R. Okafor", "--yes", "--state-dir", plant.state], capture_output=True,
                                   text=True, timeout=60)
        self.assertEqual(withdrawn.returncode, 1)
        self.assertIn("Record 1 stands as before", withdrawn.stderr)

        fill.unlink()
        wait_for("the store to write again", lambda: plant.status()["store"]["writing"])
        code, _, err = self.done(self.begin("12.4mV", "--yes"))
        self.assertEqual(code, 0, err)
        self.assertEqual(sorted(r["record"]["number"] for r in self.records()), [1, 2])
        # In force is now 12.4 mV instead of 12.5 mV: 12.1 / 12.0 of the reading before, with the zero of 0.4 mV.
        self.assertAlmostEqual(self.fresh_reading(), before * 12.1 / 12.0, delta=0.0006)  # six times the noise of a difference

    def test_what_was_measured_can_be_recorded_again_once_there_is_room(self):
        plant = self.plant
        fill = self.fill()
        child = self.begin("12.4mV")
        self.addCleanup(child.communicate)
        child.stdin.write("y\n")
        child.stdin.flush()
        said = ""
        while "Record it again?" not in said:
            letter = child.stderr.read(1)
            self.assertTrue(letter, said)
            said += letter
        self.assertIn("NOT RECORDED", said)
        fill.unlink()
        wait_for("the store to write again", lambda: plant.status()["store"]["writing"])
        code, out, err = self.done(child, "y\n")
        self.assertEqual(code, 0, said + err)
        self.assertEqual(sorted(r["record"]["number"] for r in self.records()), [1, 2])


if __name__ == "__main__":
    unittest.main()
