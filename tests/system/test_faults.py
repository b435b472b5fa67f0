"""What goes wrong around the daemon: each fault gives a clear message and the right state, and ends by itself."""

import os
import signal
import subprocess
import unittest

from plant import BIN, Plant, wait_for


class Faults(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)

    def test_a_dead_bus_makes_its_rooms_not_monitored_and_its_return_is_noticed(self):
        plant = self.plant
        plant.start_site("--speed", 1, "--story", "quiet")
        plant.start_daemon()
        wait_for("the annexe to be monitored", lambda: plant.room("cryo-annexe")["monitored"])
        plant.site.end()
        alarm = plant.wait_for_alarm("cryo-annexe", "not-monitored", "unacknowledged")
        self.assertIn("IS NOT MONITORED", alarm["text"])
        self.assertFalse(plant.room("cryo-annexe")["relay_energised"])
        plant.wait_for_alarm("growth-chamber-1", "not-monitored", "unacknowledged")
        plant.start_site("--speed", 1, "--story", "quiet")
        plant.wait_for_alarm("cryo-annexe", "not-monitored", "latched_unacknowledged")
        self.assertTrue(plant.room("cryo-annexe")["monitored"])
        # Two lost channels of three also tripped every limit: each waits for a person, then for its inspection.
        for alarm in ("not-monitored", "low-oxygen", "very-low-oxygen", "high-oxygen"):
            plant.wait_for_alarm("cryo-annexe", alarm, "latched_unacknowledged")
            for act in ("acknowledge", "reset"):
                plant.oxherd(act, f"cryo-annexe/{alarm}", "--by", "Mira")
        wait_for("the relay to be energised", lambda: plant.coil(0))
        plant.daemon.wait_for_text(r"recovered after \d+ failures")

    def test_a_second_daemon_on_the_same_state_is_refused_with_the_first_ones_process(self):
        plant = self.plant
        first = plant.start_daemon()
        second = plant.start_daemon(ready=False)
        self.assertEqual(second.child.wait(30), 1)
        self.assertRegex(second.text(), rf"process {first.child.pid}")
        plant.daemon = first
        self.assertTrue(plant.status()["rooms"])

    def test_a_wrong_file_is_refused_with_every_place_and_starts_nothing(self):
        plant = self.plant
        plant.write_config(lambda t: t.replace('below = "19.5 %"', 'below = "19.5 kPa"', 1)
                           .replace("[room.bay-3.alarm.high-co2]", "[room.bay-3.alarm.high-co2]\nabvoe = 1"))
        refused = plant.start_daemon(ready=False)
        self.assertEqual(refused.child.wait(30), 1)
        self.assertRegex(refused.text(), r"larkfield\.toml:\d+:\d+: room\.cryo-annexe\.alarm\.low-oxygen\.below")
        self.assertRegex(refused.text(), r"larkfield\.toml:\d+:\d+: room\.bay-3\.alarm\.high-co2\.abvoe")
        self.assertIn("not started", refused.text())

    def test_unreadable_and_half_written_files_are_refused(self):
        plant = self.plant
        for what, spoil in {"half": lambda: plant.config.write_text(plant.config.read_text()[:-30]),
                            "directory": lambda: (plant.config.unlink(), plant.config.mkdir())}.items():
            with self.subTest(what):
                spoil()
                refused = plant.start_daemon(ready=False)
                self.assertEqual(refused.child.wait(30), 1)
                self.assertIn("larkfield.toml", refused.text())
                plant.config.is_dir() or plant.write_config()

    def test_a_bad_reload_is_refused_whole_and_a_good_one_taken(self):
        plant = self.plant
        plant.start_site("--speed", 1, "--story", "quiet")
        plant.start_daemon()
        wait_for("readings", lambda: plant.room("cryo-annexe")["monitored"])
        plant.write_config(lambda t: t.replace('below = "19.5 %"', 'below = "hello"', 1))
        plant.daemon.kill(signal.SIGHUP)
        plant.daemon.wait_for_text("reload refused")
        self.assertEqual(plant.alarm("cryo-annexe", "low-oxygen")["limit"], 0.195)
        plant.write_config(lambda t: t.replace('below = "19.5 %"', 'below = "20.2 %"', 1))
        plant.daemon.kill(signal.SIGHUP)
        plant.daemon.wait_for_text("reloaded: watching 4 rooms")
        self.assertAlmostEqual(plant.alarm("cryo-annexe", "low-oxygen")["limit"], 0.202)
        wait_for("readings to go on", lambda: plant.room("cryo-annexe")["monitored"])

    def test_a_reload_that_deletes_an_active_alarm_is_refused(self):
        plant = self.plant
        plant.start_daemon()  # no site: every room is soon not monitored
        plant.wait_for_alarm("cryo-annexe", "not-monitored", "unacknowledged")
        text = plant.config.read_text()
        head, tail = text.split("# --- cryo-annexe", 1)
        rest = "# --- growth-chamber-1" + tail.split("# --- growth-chamber-1", 1)[1]
        rest = rest.replace("[output.cryo-beacon]\nkind = \"alarm-relay\"\nroom = \"cryo-annexe\"\nbus = \"plant\"\n"
                            "unit = 31\ncoil = 0\n", "")
        plant.config.write_text(head.replace('barometer = "cryo-annexe/air"', "") + rest)
        self.assertEqual(subprocess.run([BIN / "oxherd", "check", "--config", plant.config],
                                        capture_output=True).returncode, 0, "the file itself is fine")
        plant.daemon.kill(signal.SIGHUP)
        plant.daemon.wait_for_text("reload refused: it would delete active alarms .*cryo-annexe/not-monitored")
        self.assertEqual(len(plant.status()["rooms"]), 4)

    def test_commands_say_clearly_when_no_daemon_runs(self):
        for command in ("status", "alarms", "history"):
            done = self.plant.oxherd(command, check=False)
            self.assertEqual(done.returncode, 3, done.stderr)
            self.assertIn("no oxherd daemon answers", done.stderr)

    @unittest.skipUnless(os.geteuid() == 0, "needs root to mount a small file system")
    def test_a_full_disk_is_said_and_the_rooms_stay_watched(self):
        plant = self.plant
        small = plant.dir / "small"
        small.mkdir()
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=32m", "tmpfs", small], check=True)
        self.addCleanup(lambda: subprocess.run(["umount", "-l", small], check=True))
        plant.state = small / "state"
        plant.start_site("--speed", 1, "--story", "quiet")
        plant.start_daemon()
        wait_for("readings", lambda: plant.room("cryo-annexe")["monitored"])
        fill = plant.fill_disk(small)
        trouble = wait_for("the store's trouble", lambda: plant.status()["store"]["trouble"])
        self.assertIn("disk full", trouble)
        self.assertTrue(plant.room("cryo-annexe")["monitored"])
        fill.unlink()
        wait_for("the store to write again", lambda: plant.status()["store"]["writing"])


if __name__ == "__main__":
    unittest.main()
